"""care."""
