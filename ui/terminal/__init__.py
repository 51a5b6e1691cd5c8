"""The bench in a terminal."""
