"""coat."""
