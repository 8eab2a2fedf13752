"""The keys of the project files, as data in one place: what may be written and what is made of it."""
