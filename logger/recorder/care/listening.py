"""The ports as a page asks about them: listened to, and a line format taught from what one says.

Listening takes a thread of its own; what was heard is kept until it is listened to again. A port
named by hand takes one of the forms of ``logger.model.ports.forms`` and no other.
"""

import contextlib
import os
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from logger.control.care_requests import Survey, Teach
from logger.model.bench import Bench
from logger.model.errors import InputError, PortError
from logger.model.ports.forms import form_of
from logger.ports.finding.heard import Heard, with_own
from logger.ports.finding.listen import survey
from logger.ports.identity import checked, resolve
from logger.ports.shapefiles import free_name, keep_shape, load_shapes
from logger.wire.shapes.shape import Shape, shapes_from_text
from logger.wire.teaching.marks import Marks
from logger.wire.teaching.registers import format_of, numbered, pointed
from logger.wire.teaching.taught import cut_lines, taught
from logger.wire.teaching.tokens import pieces_of

LISTEN_S = 3.0
LINES_SHOWN = 8
"""Lines of an unknown instrument that are shown to be pointed at."""


class Listening:
    """What was heard on the ports.

    Parameters
    ----------
    folder : Path
        Where line formats of the user's own are.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.heard: list[Heard] = []
        self.shapes: Mapping[str, Shape] = {}
        self._thread: threading.Thread | None = None
        self._tried: dict[str, str] = {}

    def survey(self, asked: Survey, there: Bench) -> dict[str, Any]:
        """Begin to listen when asked to, to every port or to one named by hand alone, and say what
        was heard so far.

        Parameters
        ----------
        asked : Survey
            What is asked for.
        there : Bench
            The bench so far; its ports are read already and not listened to.

        Raises
        ------
        InputError
            If a port named by hand has no form that is taken, or is read already.
        """
        busy = self._thread is not None and self._thread.is_alive()
        if asked.begin and not busy:
            taken = _devices_of(there)
            devices = [_by_hand(asked.port.strip(), taken)] if asked.port.strip() else []
            about = (devices, list(taken))
            self._thread = threading.Thread(target=self._listen, args=about, daemon=True)
            self._thread.start()
            busy = True
        heard = [] if busy else [one.as_json() | {"lines": _shown(one)} for one in self.heard]
        tried = [f"{device}: {far}" for device, far in sorted(self._tried.copy().items())]
        return {
            "busy": busy,
            "asked": self._thread is not None,
            "heard": heard,
            "tried": tried if busy else [],
        }

    def _listen(self, devices: list[str], skip: list[str]) -> None:
        self.shapes = load_shapes(sorted(self._folder.glob("*.shapes.toml")))
        self._tried = {}
        heard = survey(
            LISTEN_S,
            shapes=self.shapes,
            devices=devices,
            only=bool(devices),
            skip=skip,
            progress=self._note_progress,
        )
        gone = [*devices, *skip]
        kept = [one for one in self.heard if devices and one.device not in gone]
        self.heard = kept + heard
        self.shapes = with_own(self.shapes, self.heard)

    def _note_progress(self, device: str, number: int, of: int) -> None:
        self._tried = self._tried | {device: f"step {number} of {of}"}

    def teach(self, asked: Teach) -> dict[str, Any]:
        """Make a line format of what a port said, and keep it.

        Raises
        ------
        InputError
            If nothing unknown was heard there, or nothing certain can be made of it.
        """
        at = next((n for n, h in enumerate(self.heard) if h.device == asked.port), None)
        if at is not None and self.heard[at].unsaid:
            return self._say_factor(at, asked)
        if at is None or not _unknown(self.heard[at]):
            raise InputError(asked.port, "no unknown lines were heard there", "listen again")
        one = self.heard[at]
        marks = Marks(
            shown=(asked.text,),
            line=asked.line,
            number=asked.number,
            unit=asked.unit,
            moving=tuple(asked.moving),
            missing=tuple(asked.missing),
        )
        name = free_name(self._folder)
        made = taught(one.text.encode("latin-1"), marks, name=name, port=one.line)
        keep_shape(self._folder, made.name, made.text)
        self.shapes = {**self.shapes, made.name: made.shape}
        self.heard[at] = one.taught(made.shape, made.fields)
        return {"says": f"Saved as {name}: {made.says}"}

    def _say_factor(self, at: int, asked: Teach) -> dict[str, Any]:
        """Make a line format of the registers whose factor somebody said, and keep it."""
        one = self.heard[at]
        registers = pointed(one.registers, asked.number, asked.unit)
        name = free_name(self._folder)
        text = format_of(one.registers_text, name, registers)
        keep_shape(self._folder, name, text)
        self.shapes = {**self.shapes, **shapes_from_text(text, name)}
        self.heard[at] = one.said(registers, name)
        return {"says": f"Saved as {name}: {self.heard[at].says}"}


def _by_hand(port: str, taken: Mapping[str, str]) -> str:
    """Return a port that a page named; no page makes the recorder ask another server."""
    if form_of(checked(port)).name in ("http", "mqtt"):
        raise InputError("port", port[:60], "name it in the bench file instead")
    for device, instrument in taken.items():
        if os.path.realpath(device) == os.path.realpath(port):
            raise InputError("port", f"{instrument} is read there already", "name another port")
    return port


def _devices_of(bench: Bench) -> dict[str, str]:
    """Return the devices that a bench reads, each with what it is."""
    found = {}
    ports = [(i.port, i.id) for i in bench.instrument] + [
        (s.port, "a switch") for s in bench.switch
    ]
    for port, what in ports:
        with contextlib.suppress(InputError, PortError):
            found[resolve(port).device] = what
    return found


def _unknown(one: Heard) -> bool:
    return one.shape is None and bool(one.text) and not one.error and not one.registers


def _shown(one: Heard) -> list[dict[str, Any]]:
    """Return the last lines of an instrument that nobody knows, as pieces to point at."""
    if one.unsaid:
        parts = numbered(one.registers)
        return [{"line": 0, "pieces": [{"text": t, "number": n} for t, n in parts]}]
    if not _unknown(one):
        return []
    try:
        raw, _ = cut_lines(one.text.encode("latin-1"))
    except InputError:
        return []
    pieces = pieces_of([line.decode("utf-8", "replace") for line in raw])
    last = list(enumerate(pieces))[-LINES_SHOWN:]
    return [
        {"line": at, "pieces": [{"text": text, "number": number} for text, number in parts]}
        for at, parts in last
    ]
