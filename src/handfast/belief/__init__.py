"""Estimates of where things are, before and after touches."""
