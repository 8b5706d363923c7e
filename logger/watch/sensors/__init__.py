"""sensors."""
