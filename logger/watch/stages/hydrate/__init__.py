"""hydrate."""
