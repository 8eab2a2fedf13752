"""Standards as data with their sources: fits, threads, screws, pins, tolerances, statistics."""
