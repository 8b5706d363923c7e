"""Chilling, as acts of the cook. Pure."""

from logger.virtual.batch.cook import Cook


def act(cook: Cook) -> None:
    """Chill the rolls in ice slush, a probe in the first."""
    start_s = cook.now
    cook.takes(5.0)
    cook.move("core", "core")
    cook.script.surroundings.append((cook.now, "ice slush", -2.0, 220.0))
    cook.now = start_s + cook.batch.chill_s
    cook.script.surroundings.append((cook.now, "board", cook.batch.room_c, 12.0))
    cook.move("core", "air")
