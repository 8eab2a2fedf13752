"""CAD files: the one place that loads the CAD library. What leaves it are plain records in metres."""
