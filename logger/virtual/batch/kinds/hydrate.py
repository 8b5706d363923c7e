"""Soaking, as acts of the cook. Pure."""

from logger.virtual.batch.cook import Cook


def act(cook: Cook) -> None:
    """Let the binder take up water."""
    cook.now += cook.batch.hydrate_s
