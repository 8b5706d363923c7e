"""Shaping, as acts of the cook. Pure."""

from logger.virtual.batch.cook import Cook
from logger.virtual.batch.ware import PIECE_TRAY_G


def act(cook: Cook) -> None:
    """Stir in the barley; put each roll on the bench scale."""
    batch, bench = cook.batch, cook.script.bench
    cook.takes(9.0)
    cook.script.bowl_span_s = (cook.script.bowl_span_s[0], cook.now)
    cook.move("emulsion", "air")
    cook.move("water", "air")
    cook.takes(40.0)
    bench.put(cook.now, PIECE_TRAY_G, 0.4)
    cook.takes(4.0)
    bench.tares_s.append(cook.now)
    for mass_g in batch.piece_g:
        cook.takes(9.0)
        bench.put(cook.now, mass_g, 0.4)
        cook.takes(7.0)
        bench.put(cook.now, -mass_g, 0.4)
    cook.takes(3.0)
