"""Drying on the rack, as acts of the cook. Pure."""

from logger.virtual.batch.cook import Cook, clear_bench
from logger.virtual.batch.ware import PIECE_TRAY_G, RACK_G


def act(cook: Cook) -> None:
    """Dry the rolls on a rack on the bench scale, under a fan."""
    bench = cook.script.bench
    cook.script.surroundings.append((cook.now, "fan", cook.batch.room_c, 30.0))
    cook.takes(2.0)
    clear_bench(cook, PIECE_TRAY_G)
    cook.takes(3.0)
    bench.put(cook.now, RACK_G, 0.5)
    cook.takes(4.0)
    bench.tares_s.append(cook.now)
    cook.takes(3.0)
    first_s = cook.now
    cook.now += 10.0
    cook.script.drying_span_s = (first_s, cook.now + cook.batch.dry_s)
    cook.now += cook.batch.dry_s
    cook.takes(2.0)
