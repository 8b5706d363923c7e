"""scale."""
