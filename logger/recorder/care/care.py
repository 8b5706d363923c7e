"""What a person changes from the screen beside a run: sheets, roles of channels, corrections.

Each change goes into the file that the person also edits by hand, whole or not at all, and counts
at once while no run is recorded. Called from the threads of the control line, one change at a time.
Nothing from a request becomes a path, and no text of a request goes into the bench file.
"""

import dataclasses
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeGuard

from logger.control.care_requests import (
    AdoptBench,
    CheckBegin,
    CheckEnd,
    CheckWrite,
    SaveSheet,
    SetRole,
    Survey,
    Teach,
)
from logger.control.care_requests import Care as CareRequest
from logger.control.requests import Request
from logger.control.sensor_answer import sensor_of, sensor_text
from logger.model.bench import ROLE_LABELS, Channel
from logger.model.errors import BainlogError, InputError
from logger.model.files import bench_from_text
from logger.ports.finding.columns import said_of
from logger.ports.finding.heard import bench_text, joined_text
from logger.ports.shapefiles import keep_shape
from logger.recorder.care.listening import Listening
from logger.recorder.care.own_files import (
    published,
    replace_text,
    save_correction,
    save_role,
    save_sensor,
)
from logger.recorder.care.saved_sheets import save_sheet
from logger.recorder.care.sensor_check import (
    HOW,
    SHEET,
    Reference,
    SensorCheck,
    bare_readings,
    checked,
    fits,
    reference_of,
)
from logger.recorder.live.clocks import today
from logger.recorder.setup import Setup, read_text, setup_from_files
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView

CHECK_S = 60.0
"""Length of a check [s]: common practice, no source; twice the shortest that is judged."""


class Care:
    """Carries out such changes for one recorder.

    Parameters
    ----------
    folder : DataFolder
        The data folder.
    bench_file : Path
        Where the bench is written, whether it is there yet or not.
    setup : callable
        Returns what the recorder runs with now.
    recording : callable
        Whether a run is being recorded.
    ask : callable
        ``ask(do, data)``: asks the recorder like a client.
    rewire : callable
        ``rewire(setup)``: lets the recorder go on with another bench file.
    """

    def __init__(
        self,
        folder: DataFolder,
        bench_file: Path,
        *,
        setup: Callable[[], Setup],
        recording: Callable[[], bool],
        ask: Callable[[str, dict[str, Any]], Any],
        rewire: Callable[[Setup], object],
    ) -> None:
        self._folder = folder
        self._file = bench_file
        self._setup = setup
        self._recording = recording
        self._ask = ask
        self._use = rewire
        self._lock = threading.Lock()
        self._begun: dict[str, tuple[Channel, Reference]] = {}
        self._found: dict[str, SensorCheck | BainlogError] = {}
        self._ports = Listening(bench_file.parent)

    def knows(self, asked: Request) -> TypeGuard[CareRequest]:
        """Whether a request is one of these."""
        return isinstance(asked, CareRequest)

    def answer(self, asked: CareRequest) -> dict[str, Any]:
        """Carry out one request; see DEVELOPERS.md for what each takes and gives.

        Raises
        ------
        InputError
            If it is refused.
        """
        with self._lock:
            match asked:
                case SaveSheet():
                    saved = save_sheet(self._folder, asked.name, asked.sheet, asked.base)
                    return dataclasses.asdict(saved)
                case SetRole():
                    return self._set_role(asked)
                case CheckBegin():
                    return self._check_begin(asked)
                case CheckEnd():
                    return self._check_end(asked)
                case CheckWrite():
                    return self._check_write(asked)
                case Survey():
                    return self._ports.survey(asked, self._setup().bench)
                case Teach():
                    return self._ports.teach(asked)
                case AdoptBench():
                    return self._adopt_bench(asked)

    def _set_role(self, asked: SetRole) -> dict[str, Any]:
        self._free("role")
        channel, role = asked.channel, asked.role
        answered = asked.sensor_type or asked.sensor_class
        if answered:  # first, because it may be refused
            self._say_sensor(channel, asked.sensor_type, asked.sensor_class, asked.sensor_size)
        other = save_role(self._there(), channel, role)
        self._rewire()
        label = ROLE_LABELS[role]
        swapped = "" if other is None else f" {other}, which had it, has the other's role now."
        return {"says": f"{channel} is {label} now, written into {self._file.name}.{swapped}"}

    def _check_begin(self, asked: CheckBegin) -> dict[str, Any]:
        way, channel = asked.way, self._channel(asked.channel)
        reference = reference_of(
            way, weight=asked.weight, pressure=asked.pressure, altitude=asked.altitude
        )
        if way == "plunge" or not fits(channel, way):
            raise InputError(channel.name, f"cannot be checked by {way}", "choose another way")
        run_id = str(self._ask("start", {"sheet": SHEET})["run"])
        self._begun = {run_id: (channel, reference)}
        return {"run": run_id, "for_s": CHECK_S, "how": HOW[way], "remark": reference.remark}

    def _check_end(self, asked: CheckEnd) -> dict[str, Any]:
        run_id = asked.run
        if run_id not in self._found:
            try:
                self._found = {run_id: self._judged(run_id)}
            except BainlogError as cause:  # told again to a second screen that asks
                self._found = {run_id: cause}
        found = self._found[run_id]
        if isinstance(found, BainlogError):
            raise found
        return dataclasses.asdict(found)

    def _judged(self, run_id: str) -> SensorCheck:
        if run_id not in self._begun:
            raise InputError("sensor check", "not begun here", "begin it again")
        channel, reference = self._begun.pop(run_id)
        with RunView.open(self._folder.run_path(run_id)) as view:
            recording = view.ended_utc_ns is None
        if recording:
            self._ask("run_end", {})
        with RunView.open(self._folder.run_path(run_id)) as view:
            _, time_s, shown = bare_readings(view, channel.id)
        return checked(channel, time_s, shown, reference, today())

    def _check_write(self, asked: CheckWrite) -> dict[str, Any]:
        self._free("correction")
        found = self._found.get(asked.run)
        if not isinstance(found, SensorCheck):
            raise InputError("sensor check", "nothing was found", "do the check first")
        save_correction(self._there(), found.channel, found.correction)
        self._found = {}
        self._rewire()
        return {"says": f"Written into {self._file.name}; used from now on."}

    def _say_sensor(self, channel: str, type_: str, class_: str, size: str) -> None:
        save_sensor(self._there(), channel, type_=type_, class_=class_, size=size)

    def _adopt_bench(self, asked: AdoptBench) -> dict[str, Any]:
        """Write the bench file that fits what was heard, or what is new into the one there is."""
        self._free("bench file")
        if not any(one.shape for one in self._ports.heard):
            raise InputError("bench file", "no instrument was recognised", "plug in, listen again")
        shapes = self._ports.shapes
        heard = [said_of(h, asked.numbers, asked.columns, shapes) for h in self._ports.heard]
        if all(one.units for one in heard if one.shape):
            raise InputError("bench file", "the numbers have no unit", "say what they are")
        sensors = _sensors(asked)
        text = bench_text(heard, sensors=sensors)
        if self._file.exists():
            text = joined_text(heard, read_text(self._file), self._file.name, sensors)
        for one in heard:
            if one.format_text:
                keep_shape(self._folder.path, one.format_name, one.format_text, again=True)
        replace_text(self._file, text, lambda text: bench_from_text(text, "bench.toml"))
        try:
            self._rewire()
        except BainlogError as cause:
            return {"says": f"{self._file.name} is written, but not in use yet. {cause}"}
        return {"says": f"{self._file.name} is written and in use. Now say which is which."}

    def _free(self, what: str) -> None:
        """Refuse while a run is recorded: its bench is frozen."""
        if self._recording():
            raise InputError(what, "a run is being recorded", "end it first")

    def _there(self) -> Path:
        if not self._file.is_file():
            raise InputError(str(self._file), "no bench file", "plug in, and listen to the ports")
        return self._file

    def _channel(self, channel_id: str) -> Channel:
        for channel in self._setup().bench.channel:
            if channel.id == channel_id:
                return channel
        known = ", ".join(c.id for c in self._setup().bench.channel) or "none"
        raise InputError("channel", repr(channel_id), f"the bench has {known}")

    def _rewire(self) -> None:
        """Let the recorder go on with the bench file as it is now."""
        fresh = setup_from_files(self._folder, self._file, None)
        old = self._setup()
        self._use(dataclasses.replace(fresh, sheet_text=old.sheet_text, resume=old.resume))


def _sensors(asked: AdoptBench) -> dict[str, str]:
    """Return what the probes and the scales are as tables by unit, where it was answered."""
    found = {}
    if asked.probe_type:
        probe = sensor_of("degC", asked.probe_type, asked.probe_class, asked.probe_size)
        found["degC"] = sensor_text(published(probe))
    if asked.scale_class:
        found["g"] = sensor_text(sensor_of("g", "", asked.scale_class, asked.scale_size))
    return found
