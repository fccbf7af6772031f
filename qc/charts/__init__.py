"""Control charts. Arrays in, frozen results out; a signal is a place to look, not a defect."""
