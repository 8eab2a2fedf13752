"""Arms: forward and inverse kinematics."""
