"""blocks."""
