"""Setting in the calcium bath, as acts of the cook. Pure."""

from logger.virtual.batch.acts import Dip
from logger.virtual.batch.circumstances import PIECES
from logger.virtual.batch.cook import Cook


def act(cook: Cook) -> None:
    """Lower the rolls into the calcium bath and take each out again."""
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
