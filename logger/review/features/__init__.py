"""features."""
