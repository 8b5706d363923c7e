"""bodies."""
