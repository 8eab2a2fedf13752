"""The page: one HTML file that draws a saved chart and a picture of the cell."""
