"""Made-up line formats: what one prints, and what a format that was taught reads of it."""

import random
from dataclasses import dataclass

from logger.model.errors import InputError
from logger.model.reading import Flag, RawReading
from logger.wire.teaching.marks import Marks
from logger.wire.teaching.taught import taught
from logger.wire.units import conversion, converted, quantity_of
from tests.wire.conftest import feed, fresh

LINES, TAUGHT_FROM, SHOWN = 14, 9, 7
BEFORE = ("", "@ ", "PV=", "#01 ", "T", "T-", "<W ", "n1:", "7,", "A.", "E")
BEHIND = ("", ">", " ", "*", " ok", ".", "E", "0")
UNITS = ("", " C", " F", "°C", " g", ",kg", "kg", " lb", "x")
STATES = ((), (), (" S", " D"), (" ?", ""), (",1", ",0"), ("+", "-"))
MISSING = ("", "OPEN", "----", "-127.0", "lost")
MOVING = ("D", "?")


@dataclass(frozen=True)
class Made:
    """A made-up format."""

    before: str
    behind: str
    unit: str
    places: int
    width: int
    comma: bool
    plus: bool
    apart: bool
    """The sign stands in a cell of its own."""
    point: bool
    states: tuple[str, ...]
    second: bool
    missing: str

    def line(self, value, by):
        """Return a line and the state that it says."""
        text = f"{abs(value):.{self.places}f}"
        sign = "-" if value < 0 else "+" if self.plus else ""
        if not self.point:
            text = text.replace(".", "").zfill(6)
        text = (text if self.apart else sign + text).rjust(self.width)
        if value == 0 and self.missing:
            text = self.missing.rjust(self.width)
        text = text.replace(".", ",") if self.comma else text
        state = by.choice(self.states) if self.states else ""
        head = self.before.replace("@", f"{by.randrange(24):02}:{by.randrange(60):02}:07")
        other = f";{by.uniform(900, 990):.2f}" if self.second else ""
        apart = f"{sign or '+'}," if self.apart else ""
        return f"{head}{apart}{text}{self.unit}{other}{state}{self.behind}", state.strip()


def made_up(by):
    """Return a format."""
    yes = (True, False)
    return Made(
        before=by.choice(BEFORE),
        behind=by.choice(BEHIND),
        unit=by.choice(UNITS),
        places=by.randrange(4),
        width=by.choice((0, 0, 7, 9)),
        comma=by.choice(yes),
        plus=by.choice(yes),
        apart=by.choice(yes),
        point=by.choice((True, True, False)),
        states=by.choice(STATES),
        second=by.choice(yes),
        missing=by.choice(MISSING),
    )


def wrong_lines(seed):
    """Teach a made-up format, and return the lines that are read wrong; None where it is refused.

    Fourteen lines are read, nine of which it was taught from.
    """
    by = random.Random(seed)
    made, explained, scale = made_up(by), by.choice((True, False)), by.choice((5.0, 90.0, 700.0))
    values = [by.uniform(-0.4, 1) * scale for _ in range(LINES)]
    values[2] = 0.0
    printed = made.unit.strip(" ,")
    unit = printed if quantity_of(printed) else by.choice(("degC", "g"))
    lines, states = zip(*(made.line(value, by) for value in values), strict=True)
    marks = Marks(
        shown=(f"{values[SHOWN]:.{made.places}f}",),
        unit=unit,
        moving=tuple(s.strip() for s in made.states if s.strip() in MOVING) if explained else (),
    )
    heard = b"half\n" + b"".join(line.encode() + b"\r\n" for line in lines[:TAUGHT_FROM])
    try:
        shape = taught(heard, marks, name="made up").shape
    except InputError:
        return None
    how = conversion(quantity_of(unit), unit)
    wrong = []
    for line, state, value in zip(lines, states, values, strict=True):
        # No scale says -127 where nothing is on it.
        number = value == 0 and made.missing == "-127.0" and quantity_of(unit) == "mass"
        right = converted(-127.0 if number else round(value, made.places), how)
        for one in feed(fresh(shape), [line.encode() + b"\r\n"]):
            if not isinstance(one, RawReading) or one.value is None or number:
                continue
            unsaid = explained and state in MOVING and not one.flags & Flag.UNSTABLE
            if abs(one.value - right) > 2e-6 or unsaid:
                wrong.append((line, one.value, right))
    return wrong
