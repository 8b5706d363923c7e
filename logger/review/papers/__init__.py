"""papers."""
