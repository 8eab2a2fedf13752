"""The rules that turn a project into a checked project."""
