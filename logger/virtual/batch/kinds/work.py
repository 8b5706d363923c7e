"""Work that nothing measures, as acts of the cook. Pure."""

from logger.virtual.batch.cook import Cook


def act(cook: Cook) -> None:
    """Do what is to do."""
    cook.takes(60.0, 0.1)
