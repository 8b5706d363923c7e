"""Every port of the system, or those that are named, listened to side by side.

Each has a thread of its own; what is done on one is ``listener``'s.
"""

import os
import threading
from collections.abc import Collection, Mapping, Sequence

from logger.ports.finding.heard import Heard
from logger.ports.finding.listener import Listener, Progress
from logger.ports.identity import Listed, checked, listed_ports, name_of
from logger.wire.shapes.shape import Shape, builtin_shapes


def survey(
    seconds: float,
    *,
    devices: Sequence[str] = (),
    shapes: Mapping[str, Shape] | None = None,
    ask: bool = True,
    only: bool = False,
    skip: Collection[str] = (),
    progress: Progress | None = None,
) -> list[Heard]:
    """Listen to every port of the system.

    Parameters
    ----------
    seconds : float
        How long each port is listened to at the usual settings [s], at least 1.1 s at each.
    devices : sequence of str
        Further ports by path or URL, which the system does not list (pseudo-terminals,
        ``socket://``).
    shapes : mapping, optional
        Line formats to tell apart; None is the built-in ones.
    ask : bool
        Whether a quiet port is asked anything.
    only : bool
        Whether `devices` are all that is listened to.
    skip : collection of str
        Devices that are not listened to, because they are read already.
    progress : callable, optional
        Told the port, how many steps were made, and of how many; from several threads.

    Raises
    ------
    InputError
        If one of `devices` has no form that is taken.
    """
    known = dict(shapes) if shapes is not None else builtin_shapes()
    there: list[tuple[str, str, str]] = [] if only else [_named(p) for p in listed_ports()]
    read = {os.path.realpath(device) for device in skip}
    there = [one for one in there if os.path.realpath(one[1]) not in read]
    there += [(device, device, "") for device in map(checked, devices)]
    found: list[Heard | None] = [None] * len(there)

    def listen(number: int) -> None:
        name, device, description = there[number]
        about = Heard(port=name, device=device, description=description)
        listener = Listener(about, known, ask=ask, progress=progress or _silently)
        found[number] = listener.listen(seconds)

    threads = [threading.Thread(target=listen, args=(n,), daemon=True) for n in range(len(there))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return [heard for heard in found if heard is not None]


def _named(listed: Listed) -> tuple[str, str, str]:
    return name_of(listed), str(listed.device), str(listed.description or "")


def _silently(_device: str, _number: int, _of: int) -> None:
    """Tell nobody."""
