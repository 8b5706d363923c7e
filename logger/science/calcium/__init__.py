"""calcium."""
