"""chill."""
