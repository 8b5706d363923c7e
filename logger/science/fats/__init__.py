"""fats."""
