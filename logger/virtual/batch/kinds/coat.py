"""Dipping in alginate, as acts of the cook. Pure."""

from logger.virtual.batch.cook import Cook, bath_is_ready
from logger.virtual.batch.ware import FRIDGE_C
from logger.virtual.bodies.roll import coat_g


def act(cook: Cook) -> None:
    """Weigh each roll, dip it in alginate, weigh it again."""
    batch, bench = cook.batch, cook.script.bench
    if batch.bath_c <= FRIDGE_C:
        bath_is_ready(cook)
    for bare_g, thickness_mm in zip(batch.piece_g, batch.coat_mm, strict=True):
        coated_g = bare_g + coat_g(bare_g, thickness_mm)
        cook.takes(5.0)
        bench.put(cook.now, bare_g, 0.4)
        cook.takes(6.0)
        bench.put(cook.now, -bare_g, 0.4)
        cook.takes(14.0)
        bench.put(cook.now, coated_g, 0.5)
        cook.takes(6.0)
        bench.put(cook.now, -coated_g, 0.5)
    cook.takes(3.0)
