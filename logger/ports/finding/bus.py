"""Which devices with registers are on a line, and what their registers are.

Every number is asked for a register first; what answers, be it with an exception, is a device. Only
then is it asked as the line formats ask.
"""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from logger.ports.finding.asking import Asking
from logger.wire.modbus import Request, answers_in, plan_of, request_bytes
from logger.wire.questions import bytes_may_be_sent
from logger.wire.recognise import Match, recognise
from logger.wire.shapes.shape import Shape

NUMBERS = tuple(range(1, 11))
"""Numbers that devices usually have; common practice, no source."""
GAP_S = 0.1
"""Time to the next number while nothing answers [s]."""
SLOW_S = 0.3
"""Wait for one device where answers ran into each other [s]."""
ANY_REGISTER = tuple(Request("holding", address, 1) for address in range(4))
"""A device that has no such register answers with an exception. Which is asked for depends on the
number: what goes to a stranger holds no byte that is a command by itself."""


class OnBus(NamedTuple):
    """One device."""

    number: int
    shape: Shape
    """Its format, with its number."""
    match: Match
    said: bytes


def devices_on(
    asking: Asking, numbers: Sequence[int], shapes: Iterable[Shape], *, thoroughly: bool = False
) -> tuple[list[OnBus], bytes]:
    """Return the devices whose registers a format knows, and all that came.

    Parameters
    ----------
    asking : Asking
        The port.
    numbers : sequence of int
        Whom to ask, from 1 to 247.
    shapes : iterable of Shape
        Formats of registers, those to try first in front.
    thoroughly : bool
        Whether each number is asked for the registers of every format at its line settings: some
        devices do not answer for a register that they have not.
    """
    known = list(shapes)
    same = [s for s in known if thoroughly and s.port.baud == asking.line.baud]
    more = dict.fromkeys(request for shape in same for request, _ in plan_of(shape))
    there, came = _answering(asking, numbers, list(more)) if known else ([], b"")
    found = (_known(asking, number, known) for number in there)
    return [one for one in found if one is not None], came


def _answering(
    asking: Asking, numbers: Sequence[int], more: Iterable[Request]
) -> tuple[list[int], bytes]:
    """Return who answers: all in a row first, one by one where that is not clear."""
    came = b""
    for number in numbers:
        frames = [_knock(number), *(request_bytes(number, request) for request in more)]
        for frame in dict.fromkeys(filter(bytes_may_be_sent, frames)):
            asking.send(frame)
            came += asking.collect(GAP_S)
    came += asking.collect(SLOW_S)
    found, rest = answers_in(came)
    if not rest:
        return found, came
    found = []
    for number in numbers:
        asking.send(_knock(number))
        if number in answers_in(asking.collect(SLOW_S))[0]:
            found.append(number)
    return found, came


def _knock(number: int) -> bytes:
    """Return what a device is looked for with; empty where nothing of it may be sent."""
    frames = [request_bytes(number, request) for request in ANY_REGISTER]
    return next(filter(bytes_may_be_sent, frames), b"")


def _known(asking: Asking, number: int, shapes: Iterable[Shape]) -> OnBus | None:
    for shape in shapes:
        mine = shape.model_copy(update={"device": number})
        said, _ = asking.answer(mine)
        for match in recognise(said, {mine.name: mine}) if said else ():
            if match.claimed:
                return OnBus(number, mine, match, said)
    return None
