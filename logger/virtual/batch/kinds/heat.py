"""Warming on two hotplates, as acts of the cook. Pure."""

from logger.virtual.batch.cook import Cook


def act(cook: Cook) -> None:
    """Melt the fat and warm the water phase on two hotplates."""
    start_s = cook.now
    water_off_s = start_s + cook.batch.heat_s - 6.0
    cook.now = start_s + cook.batch.heat_s
    # The pan stays on a while longer than the bowl, until just before the pour.
    cook.script.heat_span_s = (start_s, water_off_s, cook.now + 18.0)
