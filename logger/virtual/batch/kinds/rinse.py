"""Rinsing, as acts of the cook. Pure."""

from logger.virtual.batch.cook import Cook


def act(cook: Cook) -> None:
    """Rinse the rolls in fresh water."""
    cook.script.surroundings.append((cook.now, "rinse water", cook.batch.room_c, 300.0))
    cook.takes(85.0, 0.05)
