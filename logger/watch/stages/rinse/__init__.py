"""rinse."""
