"""Keeping warm, as acts of the cook. Pure."""

from logger.virtual.batch.cook import Cook


def act(cook: Cook) -> None:
    """Keep them warm."""
    cook.script.surroundings.append((cook.now, "warm cupboard", 66.0, 25.0))
    cook.now += cook.batch.hold_s
