"""learn."""
