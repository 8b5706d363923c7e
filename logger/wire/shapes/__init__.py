"""shapes."""
