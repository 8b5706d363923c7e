"""folder."""
