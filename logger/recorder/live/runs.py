"""How a run begins and ends: its header, its file, its first events, its results.

Called by the owner of the run. Files are written by the writer: what touches one is handed to it.
"""

import dataclasses
import logging
from collections.abc import Mapping
from importlib.metadata import version
from typing import Any

from logger.batch.names import known_sheet
from logger.batch.standins import with_instead
from logger.control.acts import require_known
from logger.control.door import SHOWN
from logger.control.requests import Act, Note, Outcome, Photo, RemovePhoto, Start
from logger.model.errors import InputError
from logger.model.event import Event
from logger.model.finding import Results
from logger.model.rows import GoOnRow, OwnFatRow, ResultRow, StartRow
from logger.model.sheet import Sheet
from logger.ports.clock import Clock
from logger.recorder.care.own_files import save_fat
from logger.recorder.corrections.goingon import offer, open_again
from logger.recorder.live.clocks import today, zone_name
from logger.recorder.live.command import ResumeRun, StartRun
from logger.recorder.live.current import NO_SHEET, Current
from logger.recorder.live.table import Table
from logger.recorder.live.writer import Writer
from logger.recorder.setup import Setup, fats_of, read_text, slab_events, slabs_of
from logger.store.folder.datafolder import DataFolder
from logger.store.run.records import RunHeader
from logger.store.run.runfile import RunView, RunWriter

log = logging.getLogger(__name__)


def read_start(asked: Start, folder: DataFolder, setup: Setup) -> StartRun:
    """Read the sheet of a run to begin; called in the thread of the client's connection.

    Parameters
    ----------
    asked : Start
        The request.
    folder : DataFolder
        Where sheets have names.
    setup : Setup
        Holds the sheet that a request without one means.

    Raises
    ------
    InputError
        If there is no sheet, or it is wrong.
    """
    text = asked.sheet or setup.sheet_text
    if text is None:
        raise InputError("start", "no sheet", "choose a batch sheet first")
    if "\n" not in text:
        text = read_text(folder.sheet_path(text))
    at_hand = setup.bench if setup.bench.channel else None
    sheet = with_instead(known_sheet(text, "the sheet", setup.fats, at_hand), asked.instead)
    about = StartRow(
        operator=asked.operator.strip(),
        size=asked.size.strip(),
        lots={name: lot.strip() for name, lot in asked.lots.items()},
        instead=asked.instead,
    )
    return StartRun(sheet=with_lots(sheet, about.lots), text=text, bench=setup.bench, about=about)


def with_lots(sheet: Sheet, lots: Mapping[str, str]) -> Sheet:
    """Return a sheet with the lots of one batch.

    Parameters
    ----------
    sheet : Sheet
        As it was read.
    lots : mapping
        Lots by ingredient.

    Raises
    ------
    InputError
        If the sheet has no such ingredient.
    """
    known = [i.name for i in sheet.ingredient]
    for name in lots:
        if name not in known:
            has = ", ".join(known) or "none"
            raise InputError("start", f"no ingredient {name[:SHOWN]!r}", f"the sheet has {has}")
    new = [i.model_copy(update={"lot": lots.get(i.name, i.lot)}) for i in sheet.ingredient]
    return sheet.model_copy(update={"ingredient": new})


class Runs:
    """Begins and ends the runs of one data folder.

    Parameters
    ----------
    folder : DataFolder
        Where run files are.
    table : Table
        The bench.
    clock : Clock
        The recorder's clock.
    writer : Writer
        Makes and changes the files.
    """

    def __init__(self, folder: DataFolder, table: Table, clock: Clock, writer: Writer) -> None:
        self._folder = folder
        self._table = table
        self._clock = clock
        self._writer = writer

    def watching(self) -> Current:
        """Return what to go on with while nothing is recorded."""
        setup = self._table.setup
        return Current(
            setup.bench,
            setup.shapes,
            NO_SHEET,
            setup.fats,
            origin_ns=self._clock.now_ns(),
            today=today(),
            speed=self._clock.speed,
        )

    def begin(self, asked: StartRun) -> tuple[Current, list[Event]]:
        """Make a run file; return the run and its first events as they stand.

        Raises
        ------
        InputError
            If the bench was changed since the sheet was read.
        StoreError
            If the file cannot be made.
        """
        setup = self._table.setup
        if asked.bench is not setup.bench:
            raise InputError(asked.do, "the bench was changed just now", "start again")
        origin_ns = self._clock.now_ns()
        header = self._header(asked)
        path = self._folder.run_path(header.run_id)
        current = Current(
            setup.bench,
            setup.shapes,
            asked.sheet,
            setup.fats,
            origin_ns=origin_ns,
            today=today(),
            run_id=header.run_id,
            speed=self._clock.speed,
            operator=asked.about.operator,
        )
        current.file = self._writer.do(lambda: RunWriter.create(path, header)).result()
        for instrument in self._table.open_instruments():
            current.chunk(instrument, "open", b"", 0)
        first = [
            Event(
                t_ns=0,
                kind="run_start",
                source="operator",
                text=asked.sheet.sheet.name,
                data={k: v for k, v in dataclasses.asdict(asked.about).items() if v},
            )
        ]
        first += slab_events(asked.sheet, slabs_of(self._folder))
        if asked.sheet.stage:
            first.append(Event(t_ns=0, kind="next", source="operator"))
        return current, current.events(first)

    def go_on(self, asked: ResumeRun) -> tuple[Current, list[Event]]:
        """Open the file of a run again; return the run and its first event as it stands.

        Raises
        ------
        InputError
            If the bench was changed since the run was judged.
        StoreError, BusyError
            If the file cannot be written.
        """
        if asked.setup is not self._table.setup:
            raise InputError(asked.do, "the bench was changed just now", "try again")
        current = asked.run.current
        run_id = current.run_id
        current.file = self._writer.do(lambda: open_again(self._folder, run_id)).result()
        first = current.events([asked.run.event])
        now_ns = current.axis_ns(self._clock)
        for instrument in self._table.open_instruments():
            current.chunk(instrument, "close", b"", now_ns)
            current.chunk(instrument, "open", b"", now_ns)
        return current, first

    def offer(self) -> GoOnRow | None:
        """Return the run that can go on."""
        return offer(self._folder, self._table.setup, self._clock)

    def judge(self, current: Current, end_ns: int) -> Results:
        """Let the engine see the end of a run; what it says is pending then.

        Parameters
        ----------
        current : Current
            The run.
        end_ns : int
            Its end on its axis [ns].
        """
        current.events([Event(t_ns=end_ns, kind="run_end", source="operator")])
        events, results = current.pipeline.finish(end_ns)
        current.pending.events += events
        current.tell_bugs(end_ns)
        own_fat = results.own_fat
        if own_fat is not None and not any(p.endswith(".own_fat") for p in current.declined):
            self._keep_fat(own_fat)
        return results

    def edit(self, act: Act) -> dict[str, Any]:
        """Write the outcome or a note into a finished run; called by the writer.

        Raises
        ------
        InputError
            If there is no such run, or its sheet has no such defect.
        StoreError
            If its file cannot be written.
        """
        if not isinstance(act, Outcome | Note | Photo | RemovePhoto) or act.run is None:
            raise InputError(act.do, "the run is over", "add a note, a photo or the outcome")
        path = self._folder.run_path(act.run)
        with RunView.open(path) as view:
            require_known(act, view.sheet())
        with RunWriter.reopen(path) as file:
            if isinstance(act, Outcome):
                said = {one.piece: one.defects for one in act.pieces}
                pieces = said if "pieces" in act.model_fields_set else None
                measured = [ResultRow(**one.model_dump()) for one in act.results]
                file.set_outcome(
                    act.outcome,
                    act.defects,
                    act.text,
                    new_defects=act.new_defects,
                    pieces=pieces,
                    results=measured,
                    because=act.because,
                )
            elif isinstance(act, Photo):
                file.add_photo(act.image(), text=act.text, piece=act.piece)
            elif isinstance(act, RemovePhoto):
                file.remove_photo(act.sha256)
            else:
                file.add_note(act.text)
        return {"run": act.run}

    def change_pictures(self, current: Current, act: Photo | RemovePhoto) -> None:
        """Let the writer save or delete a picture ahead of its event.

        Parameters
        ----------
        current : Current
            The run under way.
        act : Photo or RemovePhoto
            Checked.

        Raises
        ------
        InputError
            If the picture has another form than one that is kept, the run has enough of them, or
            has not the one to remove.
        StoreError
            If the file cannot be written.
        """
        file = current.file
        if file is None:
            return
        if isinstance(act, RemovePhoto):
            self._writer.do(lambda: file.remove_photo(act.sha256, with_event=False)).result()
        else:
            picture = act.image()
            self._writer.do(lambda: file.keep_picture(picture)).result()

    def _header(self, asked: StartRun) -> RunHeader:
        setup, utc_ns, zone = self._table.setup, self._clock.utc_ns(), zone_name()
        return RunHeader(
            run_id=self._folder.new_run_id(utc_ns, zone),
            sheet_json=asked.sheet.model_dump_json(by_alias=True),
            sheet_text=asked.text,
            bench_json=setup.bench.model_dump_json(by_alias=True),
            bench_text=setup.bench_text,
            shapes_text=setup.shapes_text,
            started_utc_ns=utc_ns,
            zone=zone,
            boot_id=self._clock.boot_id(),
            clock_speed=self._clock.speed,
            version=version("bainlog"),
            channels=self._table.records,
        )

    def _keep_fat(self, own_fat: OwnFatRow) -> None:
        """Save a fat that was measured in the run that ends; later runs take its limits."""
        try:
            save_fat(self._folder.fats_file, own_fat.key, own_fat.toml)
            self._table.setup = dataclasses.replace(self._table.setup, fats=fats_of(self._folder))
        except (InputError, OSError) as cause:
            log.error("the measured fat stays in its run and was not saved: %s", cause)
        except Exception:
            log.exception("a bug: the measured fat stays in its run and was not saved")
