"""Cooking, as acts of the cook. Pure."""

from logger.virtual.batch.cook import Cook


def act(cook: Cook) -> None:
    """Cook the rolls with a probe in one."""
    cook.say("note", text="steam first, then the pan")
    cook.takes(4.0)
    cook.move("core", "core")
    cook.script.surroundings.append((cook.now, "steam", 98.0, 450.0))
    cook.now += cook.batch.cook_s
