"""cook."""
