"""Studies of a lamp: the operating point at rest, what limits it and what would help."""
