"""The project folder read into records, and records written to and read from disk."""
