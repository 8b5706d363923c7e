"""Values of a probe that cannot follow the one before: none, or in another unit.

A sensor that has not measured yet, one that shows the end of its range, a line that lost its first
digits, a thermometer that was switched from degC to degF while its lines name no unit. Pure; one
object remembers the values before of one instrument. Used by ``textline`` and ``jsonline``.
"""

import re
from collections.abc import Collection, Mapping

from logger.model.reading import Flag
from logger.wire.parsed import Note, Parsed
from logger.wire.shapes.possible import RANGE_ENDS

BESIDE = 5.0
"""So near to the value before, a number that also means "not measured yet" is a value [K]."""
TO_ZERO_K = 30.0
"""From further away no probe comes to 0.0 degC in one line; common practice, no source."""
POWER_ON_C = 85.0
"""What a 1-wire probe reports before its first conversion; only where it is printed with decimals.
Common practice, no source."""
BEHEADED = 0.15
"""A number is the one before without its first digits where the others are as near to it as this
part of the least of those digits."""
UNIT_JUMP_K = 8.0
"""A change of unit is told from a change of temperature above this [K]."""
CLOSE_K, CLOSE_WHOLE_K = 0.4, 1.5
"""How near to the conversion a number is, printed with decimals and without [K]."""
QUICK_K = 3.0
"""A number that changed by no more from the line before goes on about as fast [K]."""
SETTLED_LINES, ON_ITS_WAY = 3, 4.5
"""A number that goes on so many times faster than before, within so many lines, is that of a probe
that was moved: its unit is the same. Nothing moves faster than `REST_K` counts as that [K]."""
REST_K = 0.5
DECIMALS = re.compile(rb"\d[.,]\d")


class Sudden:
    """Takes out what no probe shows right behind its value before.

    Parameters
    ----------
    power_on : collection of float
        What its sensors report before their first conversion [degC].
    bare : bool
        The lines say no unit; of them, many show a probe that is gone as 0.
    silent : bool
        Nothing in the lines would tell if the unit were changed.
    loose : bool
        Lines have no fixed width, by which one without its beginning were known.
    """

    def __init__(
        self, *, power_on: Collection[float] = (), bare: bool, silent: bool, loose: bool
    ) -> None:
        self._power_on = frozenset(power_on)
        self._bare, self._silent, self._loose = bare, silent, loose
        self._before: dict[str, float] = {}
        self._shown: dict[str, float] = {}
        self._step: dict[str, float] = {}
        self._away = 0
        """1 while the numbers are in degF and were in degC, -1 the other way round."""
        self._since = 0

    def forget(self) -> None:
        """Forget the values: the port was opened anew. A unit that changed stays changed."""
        self._before.clear()
        self._shown.clear()
        self._step.clear()
        self._since = SETTLED_LINES

    def taken_out(self, parsed: Parsed, line: bytes) -> Parsed:
        """Return what a line says, without such values.

        Parameters
        ----------
        parsed : Parsed
            What it says by its format.
        line : bytes
            As it came.
        """
        decimals = DECIMALS.search(line) is not None
        away = self._silent and self._unit_changed(parsed, decimals)
        values, notes = list(parsed.values), list(parsed.notes)
        for at, value in enumerate(values):
            if value.value is None or value.unit != "degC":
                continue
            why = "its unit may have changed" if away else self._why(value.field, value.value, line)
            first = at == 0 and self._loose and line[:1].isdigit()
            before = self._before.get(value.field)
            if not why:
                self._before[value.field] = value.value
                if first and before is not None and _lost_its_head(before, value.value):
                    why = "its first digits may be missing"
            if why:
                values[at] = value._replace(value=None, flags=int(Flag.FAULT))
                notes.append(Note("fault", value.field, why))
        return parsed._replace(values=tuple(values), notes=tuple(notes))

    def _why(self, field: str, value_c: float, line: bytes) -> str:
        """Return why a value is none, or nothing."""
        before = self._before.get(field)
        if before is not None and abs(before - value_c) <= BESIDE:
            return ""
        printed = DECIMALS.search(line) is not None
        if value_c in self._power_on or (value_c == POWER_ON_C and printed):
            return "not measured yet"
        if before is not None and value_c != 0 and round(value_c, 2) in RANGE_ENDS:
            return "the end of its range"
        gone = before and (self._bare or abs(before) > TO_ZERO_K)
        return "no value" if gone and value_c == 0 and b"0.0" in line else ""

    def _unit_changed(self, parsed: Parsed, decimals: bool) -> bool:
        """Whether the numbers of this line are in another unit than those at first."""
        now = {v.field: v.value for v in parsed.values if v.value is not None}
        pairs = {f: (self._shown[f], v) for f, v in now.items() if f in self._shown}
        turn = self._turn(pairs, CLOSE_K if decimals else CLOSE_WHOLE_K)
        if turn and turn == -self._away:
            self._away = 0
        elif turn and not self._away:
            self._away, self._since = turn, 0
        elif self._away and self._since < SETTLED_LINES:
            self._since += 1
            self._away *= not any(
                abs(b - a) > ON_ITS_WAY * max(abs(self._step.get(f, 0.0)), REST_K)
                for f, (a, b) in pairs.items()
            )
        if not turn and not self._away:
            self._step |= {f: b - a for f, (a, b) in pairs.items()}
        self._shown |= now
        return self._away != 0

    def _turn(self, pairs: Mapping[str, tuple[float, float]], close_k: float) -> int:
        """Return 1 where all numbers went from degC to degF, -1 from degF to degC, 0 else."""
        if not pairs or any(abs(b - a) < UNIT_JUMP_K for a, b in pairs.values()):
            return 0
        for turn, factor, offset in ((1, 1.8, 32.0), (-1, 1 / 1.8, -32.0 / 1.8)):
            if all(self._is(f, a * factor + offset, b, close_k) for f, (a, b) in pairs.items()):
                return turn
        return 0

    def _is(self, field: str, converted: float, shown: float, close_k: float) -> bool:
        """Whether a number is the one before in another unit, as fast as it changes."""
        step = self._step.get(field, 0.0)
        step = step if abs(step) <= QUICK_K else 0.0
        return abs(converted + step - shown) <= close_k + abs(step)


def _lost_its_head(before: float, now: float) -> bool:
    """Whether a number may be like the one before it [degC], without its first digits."""
    least = 10.0 ** len(str(int(now)))
    if now < 0 or before - now < (1 - BEHEADED) * least:
        return False
    apart = abs(before % least - now)
    return min(apart, least - apart) <= BEHEADED * least
