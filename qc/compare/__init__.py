"""Comparisons with the block as the unit: months, gauges, parts. Arrays in, frozen results out."""
