"""Which channel moved: a probe warmed in the hand, a scale that is pressed.

Pure; two looks at the channels in, the one that moved out. Used by the screen to find out which
probe is which.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from logger.model.state import ChannelView

LEAST = {"degC": 1.0, "g": 2.0}
"""Least change that counts as moving [degC or g]; below it is noise: common practice, no source."""
ALONE = 0.5
"""A second channel that moves by more than this share of the first leaves it open which it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """What moved.

    Attributes
    ----------
    channel : str or None
        Id of the one that moved alone; None while it cannot be told.
    rivals : tuple of str
        Ids of two that move together.
    change : float
        By how much the first moved [degC or g].
    """

    channel: str | None = None
    rivals: tuple[str, ...] = ()
    change: float = 0.0


def mover(
    before: Mapping[str, float | None], now: Sequence[ChannelView], unit: str | None = None
) -> Moved:
    """Return which channel moved since an earlier look.

    Parameters
    ----------
    before : mapping
        Values by channel id [degC or g].
    now : sequence of ChannelView
        Channels of the state; only live ones count.
    unit : str or None
        ``"degC"`` or ``"g"``: only channels of that unit count.
    """
    moved: list[tuple[float, float, str]] = []
    for channel in now:
        was, value = before.get(channel.id), channel.value
        if was is None or value is None or channel.status != "live":
            continue
        if unit is None or channel.unit == unit:
            least = LEAST.get(channel.unit, 1.0)
            moved.append((abs(value - was) / least, value - was, channel.id))
    moved.sort(reverse=True)
    if not moved or moved[0][0] < 1.0:
        return Moved()
    if len(moved) > 1 and moved[1][0] > ALONE * moved[0][0]:
        return Moved(rivals=(moved[0][2], moved[1][2]), change=moved[0][1])
    return Moved(channel=moved[0][2], change=moved[0][1])
