"""ISO fits, threads, pins and screws as data with their sources."""
