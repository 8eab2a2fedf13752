"""The files of a project that is begun, or brought up to date, from a CAD assembly."""
