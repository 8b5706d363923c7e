"""fat_curve."""
