"""The rules, by what they look at. Each is one function that yields findings and raises nothing."""
