"""metrology."""
