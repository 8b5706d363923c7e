"""cooling."""
