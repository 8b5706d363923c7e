"""hold."""
