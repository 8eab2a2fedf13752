"""The report: saved records as a document for people."""
