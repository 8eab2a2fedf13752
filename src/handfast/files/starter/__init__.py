"""A first project from about ten answers."""
