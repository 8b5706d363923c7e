"""weigh."""
