"""Paths, timing and the grid of two hands."""
