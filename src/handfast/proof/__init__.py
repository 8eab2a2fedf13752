"""The independent verifier: shares no code with the planner."""
