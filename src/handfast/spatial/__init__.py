"""Rigid-body geometry and units: SE(3), poses, the fixed unit table."""
