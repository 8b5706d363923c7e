"""emulsify."""
