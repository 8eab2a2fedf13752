"""The project folder and saved records, read and written."""
