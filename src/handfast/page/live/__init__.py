"""The page kept open while one works: served on this machine, renewed when files are saved."""
