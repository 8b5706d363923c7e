"""replay."""
