"""The recorder of one data folder: instruments, runs, commands.

Owns the lock of the folder, one thread a port, the writer thread and the control line. Begins by
watching; a run starts and ends by command, so that the bench can be looked at before.
"""

import dataclasses
import json
import logging
import os
from importlib.metadata import version
from pathlib import Path
from typing import Any

from logger.batch.names import known_sheet
from logger.control.server import ControlServer
from logger.model.errors import InputError
from logger.model.event import Event
from logger.model.plainly import results_as_json
from logger.model.sheet import Sheet
from logger.ports.clock import Clock
from logger.ports.footswitch import FootSwitchThread
from logger.ports.instrument import InstrumentThread
from logger.recorder.care.care import Care
from logger.recorder.care.own_files import save_fat
from logger.recorder.live.clocks import today, zone_name
from logger.recorder.live.command import Command
from logger.recorder.live.current import NO_SHEET, Current
from logger.recorder.live.inbox import Inbox
from logger.recorder.live.wiring import channel_records
from logger.recorder.live.writer import Writer
from logger.recorder.replay.beside import derived_at_end
from logger.recorder.replay.recovery import recover
from logger.recorder.setup import Setup, fats_of, read_text, slab_events, slabs_of
from logger.store.folder.datafolder import DataFolder
from logger.store.run.records import RunHeader
from logger.store.run.runfile import RunWriter

log = logging.getLogger(__name__)


class Recorder:
    """Records the bench of one data folder.

    Parameters
    ----------
    folder : DataFolder
        Locked for this recorder while it runs.
    setup : Setup
        Bench, shapes, sheet.
    clock : Clock
        Speed 1 but for a virtual bench.
    bench_file : Path or None
        Where changes of the bench are written; None is ``bench.toml`` of the folder.

    Raises
    ------
    BusyError
        If another recorder holds the folder; named.
    InputError
        If the bench does not fit its line shapes.
    """

    def __init__(
        self, folder: DataFolder, setup: Setup, clock: Clock, bench_file: Path | None = None
    ) -> None:
        self._folder = folder
        self._setup = setup
        self._clock = clock
        self._records = channel_records(setup.bench, setup.shapes)
        self._inbox = Inbox()
        self._care = Care(
            folder, bench_file or folder.bench_file, lambda: self._setup,
            lambda: self._writer.current.recording, self._inbox.ask,
        )  # fmt: skip
        self._control = ControlServer(folder.path, self.answer)
        self._lock = folder.lock()
        try:
            left_over = recover(folder, setup, clock)
        except BaseException:
            self._lock.release()
            raise
        self._writer = Writer(
            clock,
            self._inbox,
            left_over or self._watching(),
            turn_over=self._turn_over,
            edit=self._edit,
            ports=lambda: [t.status() for t in self._threads],
            ballast=folder,
        )
        self._wire(setup)

    def start(self) -> None:
        """Open the ports, begin to watch, answer commands."""
        self._writer.start()
        for thread in self._all_threads():
            thread.start()
        self._control.start()

    def stop(self) -> None:
        """End the run if there is one, saved; close the ports; let the folder go."""
        try:
            if self._writer.is_alive() and self._writer.current.recording:
                self.answer("run_end", {})
        except InputError as cause:
            log.error("the run stays open and is taken up at the next start: %s", cause)
        self._control.stop()
        for thread in self._all_threads():
            thread.stop()
        for thread in self._all_threads():
            thread.join(5.0)
        self._writer.stop()
        self._writer.join()
        if self._writer.current.file is not None:
            self._writer.current.file.close()
        self._lock.release()

    def _wire(self, setup: Setup) -> None:
        """Make the threads of a bench's ports."""
        self._threads: list[InstrumentThread] = [
            InstrumentThread(i, setup.shapes[i.shape], self._clock, 0, self._inbox.deliver)
            for i in setup.bench.instrument
        ]
        self._switches: list[FootSwitchThread] = [
            FootSwitchThread(s, self._clock, 0, self._inbox.deliver)
            for s in setup.bench.switch
            if s.port not in {i.port for i in setup.bench.instrument}
        ]

    def _rewire(self, setup: Setup) -> Current:
        """Go on with another bench file; ports whose instruments are the same stay open."""
        records = channel_records(setup.bench, setup.shapes)
        old, self._setup, self._records = self._setup.bench, setup, records
        if (old.instrument, old.switch) != (setup.bench.instrument, setup.bench.switch):
            for thread in self._all_threads():
                thread.stop()
            for thread in self._all_threads():
                thread.join(5.0)
            self._wire(setup)
            for thread in self._all_threads():
                thread.start()
        return self._watching()

    def _all_threads(self) -> list[InstrumentThread | FootSwitchThread]:
        return [*self._threads, *self._switches]

    def answer(self, do: str, data: dict[str, Any]) -> Any:
        """Answer one request of the control line; called from several threads."""
        if do == "ping":
            return {"version": version("bainlog"), "pid": os.getpid()}
        if do == "state":
            return self._writer.state()
        if do == "describe":
            return {
                "bench": json.loads(self._setup.bench.model_dump_json(by_alias=True)),
                "sheet": self._setup.sheet_text,
            }
        if self._care.knows(do):
            return self._care.answer(do, data)
        return self._inbox.ask(do, data)

    def _watching(self) -> Current:
        return Current(
            self._setup.bench, self._setup.shapes, NO_SHEET, self._setup.fats,
            origin_ns=self._clock.now_ns(), today=today(), speed=self._clock.speed,
        )  # fmt: skip

    def _turn_over(self, command: Command, current: Current, now_ns: int) -> tuple[Current, Any]:
        """Start or end a run, or change the bench; called by the writer thread between commits."""
        if command.do == "results":
            return current, results_as_json(current.pipeline.engine.results())
        if command.do in ("start", "rewire"):
            if current.recording:
                raise InputError(
                    command.do, f"run {current.run_id} is being recorded", "end it first"
                )
            if command.do == "rewire":
                return self._rewire(command.data["setup"]), {}
            return self._begin(command.data, now_ns)
        if not current.recording or current.file is None:
            raise InputError("run_end", "no run is being recorded", "start one first")
        end_ns = now_ns - current.origin_ns
        current.events([Event(t_ns=end_ns, kind="run_end", source="operator", data=command.data)])
        events, results = current.pipeline.finish(end_ns)
        current.pending.events += events
        current.file.write(current.take_pending())
        results.derived = derived_at_end(current.file.path)
        current.file.finish(results, self._clock.utc_ns())
        own_fat = results.values.get("own_fat")
        if own_fat and not any(p.endswith(".own_fat") for p in current.declined):
            self._keep_fat(own_fat)
        return self._watching(), {"run": current.run_id, "t_s": end_ns / 1e9}

    def _keep_fat(self, own_fat: dict[str, Any]) -> None:
        """Save a fat that was measured in the run that ends; later runs take its limits."""
        try:
            save_fat(self._folder.fats_file, str(own_fat["key"]), str(own_fat["toml"]))
            self._setup = dataclasses.replace(self._setup, fats=fats_of(self._folder))
        except (InputError, OSError) as cause:
            log.error("the measured fat stays in its run and was not saved: %s", cause)

    def _begin(self, data: dict[str, Any], now_ns: int) -> tuple[Current, Any]:
        text, sheet = self._sheet(data)
        known = slab_events(sheet, slabs_of(self._folder))
        utc_ns, zone = self._clock.utc_ns(), zone_name()
        run_id = self._folder.new_run_id(utc_ns, zone)
        header = RunHeader(
            run_id=run_id,
            sheet_json=sheet.model_dump_json(by_alias=True),
            sheet_text=text,
            bench_json=self._setup.bench.model_dump_json(by_alias=True),
            bench_text=self._setup.bench_text,
            shapes_text=self._setup.shapes_text,
            started_utc_ns=utc_ns,
            zone=zone,
            boot_id=self._clock.boot_id(),
            clock_speed=self._clock.speed,
            version=version("bainlog"),
            channels=self._records,
        )
        current = Current(
            self._setup.bench, self._setup.shapes, sheet, self._setup.fats,
            origin_ns=now_ns, today=today(), file=RunWriter.create(
                self._folder.run_path(run_id), header
            ), run_id=run_id, speed=self._clock.speed,
        )  # fmt: skip
        for thread in self._threads:
            if thread.status().status == "open":
                current.chunk(thread.instrument.id, "open", b"", 0)
        first = [Event(t_ns=0, kind="run_start", source="operator", text=sheet.sheet.name)]
        first += known
        if sheet.stage:
            first.append(Event(t_ns=0, kind="next", source="operator"))
        current.events(first)
        return current, {"run": run_id}

    def _sheet(self, data: dict[str, Any]) -> tuple[str, Sheet]:
        text = data.get("sheet") or self._setup.sheet_text
        if not isinstance(text, str):
            raise InputError("start", "no sheet", "choose a batch sheet first")
        if "\n" not in text:
            text = read_text(self._folder.sheet_path(text))
        bench = self._setup.bench
        at_hand = bench if bench.channel else None
        return text, known_sheet(text, "the sheet", self._setup.fats, at_hand)

    def _edit(self, command: Command) -> Any:
        """Write the outcome or a note into a finished run."""
        run_id = str(command.data["run"])
        with RunWriter.reopen(self._folder.run_path(run_id)) as file:
            if command.do == "outcome":
                file.set_outcome(
                    command.data.get("outcome"),
                    tuple(command.data.get("defects", ())),
                    str(command.data.get("text", "")),
                )
            elif command.do == "note":
                file.add_note(str(command.data.get("text", "")))
            else:
                raise InputError(
                    command.do, f"run {run_id} is over", "only notes and outcome can be added"
                )
        return {"run": run_id}
