"""Shapes, CAD and collision; the door to the CAD kernel."""
