"""Did the unit change, or did its first letter get lost?

A scale that is switched from kg to g prints another number for the same load. The same number in
another unit, line after line the one and then the other, is a line that lost a letter. Pure; one
object remembers the numbers of one instrument. Used by ``textline`` and ``jsonline``.
"""

from collections.abc import Iterable

from logger.wire.units import Conversion

SAME = 0.05
"""A number that differs by no more than this part stayed."""
STAYS = 3
"""So many lines in a row with the new unit are true."""


class Switches:
    """Remembers the numbers as sent and their units."""

    def __init__(self) -> None:
        self._before: dict[str, tuple[Conversion, float]] = {}
        self._doubted = 0

    def forget(self) -> None:
        """Forget all numbers: another instrument may answer now."""
        self._before.clear()
        self._doubted = 0

    def doubt(self, sent: Iterable[tuple[str, Conversion, float]]) -> str:
        """Return why the units of a line may not be what they seem, or nothing.

        Parameters
        ----------
        sent : iterable of tuple
            Of each value its field, how its unit becomes g or degC, and the number [that unit].
        """
        now = {field: (how, number) for field, how, number in sent}
        odd = any(self._stayed(field, *said) for field, said in now.items())
        if odd and self._doubted + 1 < STAYS:
            self._doubted += 1
            return "the unit is another one and the number is not"
        self._doubted = 0
        self._before |= now
        return ""

    def _stayed(self, field: str, how: Conversion, number: float) -> bool:
        """Whether a number is as before, but for its unit."""
        before, was = self._before.get(field, (how, number))
        return how != before and number != 0 and abs(number - was) <= SAME * abs(was)
