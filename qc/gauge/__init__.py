"""Gauges: what a reading is worth, and what may be said of a size with it."""
