"""Shaping, chilling, coating, setting, rinsing, drying, cooking, as acts of the cook. Pure."""

from logger.virtual.batch.acts import Dip
from logger.virtual.batch.circumstances import PIECES
from logger.virtual.batch.cook import Cook, bath_is_ready, clear_bench
from logger.virtual.bodies.shapes import coat_g

TRAY_G = 1120.0
"""Tray of the calcium bath on the bath scale."""
PIECE_TRAY_G = 146.0
"""Tray on the bench scale for the pieces."""
RACK_G = 386.0
FRIDGE_C = 10.0
"""A bath this cold stood in the fridge until the pieces were coated [degC]."""


def shape(cook: Cook) -> None:
    """Stir in the barley; put each roll on the bench scale."""
    cook.begin("shape")
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


def firm(cook: Cook) -> None:
    """Chill the rolls in ice slush, a probe in the first."""
    cook.begin("firm")
    start_s = cook.now
    cook.takes(5.0)
    cook.move("core", "core")
    cook.script.surroundings.append((cook.now, "ice slush", -2.0, 220.0))
    cook.now = start_s + cook.batch.chill_s
    cook.script.surroundings.append((cook.now, "board", cook.batch.room_c, 12.0))
    cook.move("core", "air")


def coat(cook: Cook) -> None:
    """Weigh each roll, dip it in alginate, weigh it again."""
    cook.begin("coat")
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


def skin(cook: Cook) -> None:
    """Lower the rolls into the calcium bath and take each out again."""
    cook.begin("skin")
    batch = cook.batch
    if not batch.short:
        cook.script.surroundings.append((cook.now, "bath", batch.bath_c, 400.0))
    apart_s = 15.0 if batch.short else 28.0
    cook.takes(8.0)
    ins_s: list[float] = []
    for _ in range(PIECES):
        ins_s.append(cook.now)
        cook.takes(apart_s, 0.25)
    outs_s = [start + dwell for start, dwell in zip(ins_s, batch.dwell_s, strict=True)]
    dips: list[Dip] = []
    busy_s = ins_s[-1] + 6.0
    # A cook has two hands: no piece comes out within five seconds of the act before.
    for piece in sorted(range(PIECES), key=lambda i: outs_s[i]):
        out_s = outs_s[piece]
        near = [t for t in ins_s if abs(t - out_s) < 5.0]
        if near:
            out_s = max(near) + 5.0
        if dips and out_s < dips[-1].out_s + 5.0:
            out_s = dips[-1].out_s + 5.0
        dips.append(Dip(piece=piece + 1, in_s=ins_s[piece], out_s=out_s))
    cook.script.dips = dips
    cook.now = max(busy_s, dips[-1].out_s)
    cook.takes(8.0)


def rinse(cook: Cook) -> None:
    """Rinse the rolls in fresh water."""
    cook.begin("rinse")
    cook.script.surroundings.append((cook.now, "rinse water", cook.batch.room_c, 300.0))
    cook.takes(85.0, 0.05)


def air(cook: Cook) -> None:
    """Dry the rolls on a rack on the bench scale, under a fan."""
    cook.begin("air")
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


def heat_through(cook: Cook) -> None:
    """Cook the rolls with a probe in one."""
    cook.begin("cook")
    cook.say("note", text="steam first, then the pan")
    cook.takes(4.0)
    cook.move("core", "core")
    cook.script.surroundings.append((cook.now, "steam", 98.0, 450.0))
    cook.now += cook.batch.cook_s


def keep(cook: Cook) -> None:
    """Keep them warm."""
    cook.begin("keep")
    cook.script.surroundings.append((cook.now, "warm cupboard", 66.0, 25.0))
    cook.now += cook.batch.hold_s
