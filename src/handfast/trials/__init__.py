"""Simulated builds with drawn errors and real contact; the door to the physics engine."""
