"""An imported file judged like a live run, and kept as one.

The same engine as live; the readings come from a file instead of ports.
"""

from collections.abc import Mapping, Sequence
from importlib.metadata import version

from logger.batch.names import known_sheet
from logger.model.bench import Bench, bench_of_roles
from logger.model.errors import InputError
from logger.model.event import Event
from logger.model.files import bench_from_text
from logger.model.sheet import Sheet
from logger.recorder.replay.beside import derived_at_end
from logger.recorder.replay.replay import judge
from logger.recorder.setup import slab_events
from logger.science.fats.fats import Fat
from logger.science.gel.slabs import SlabTest
from logger.store.exchange.importing import ImportedRun
from logger.store.exchange.streaming import LargeRun
from logger.store.folder.datafolder import DataFolder
from logger.store.run.records import ChannelRecord, RunHeader, StoredReading, WriteBatch
from logger.store.run.runfile import RunView, RunWriter

Imported = ImportedRun | LargeRun
_MEASURES = {"g": "mass", "degC": "temperature"}


def take_in(
    folder: DataFolder,
    imported: Imported,
    *,
    sheet_text: str,
    sheet_name: str,
    bench_text: str | None,
    fats: Mapping[str, Fat],
    slabs: Mapping[str, SlabTest] | None = None,
) -> str:
    """Keep an imported file as a run and judge it; return the run's id.

    Parameters
    ----------
    folder : DataFolder
        Where the run is kept.
    imported : ImportedRun
        The file as it was read.
    sheet_text, sheet_name : str
        The sheet, and its file name for messages.
    bench_text : str or None
        Bench file; None makes a bench of the channels' names.
    fats : mapping
        Fats by key.
    slabs : mapping or None
        Slab tests by alginate.

    Raises
    ------
    InputError
        If the sheet or bench does not read, the sheet names what is not there, the bench lacks a
        channel of the file, or a column is in a unit that its role does not have. Nothing is left
        behind then.
    """
    sheet = known_sheet(sheet_text, sheet_name, fats)
    bench = _bench(imported, bench_text)
    _require_units(imported, bench)
    run_id = folder.new_run_id(imported.started_utc_ns, imported.zone)
    path = folder.run_path(run_id)
    header = RunHeader(
        run_id=run_id,
        sheet_json=sheet.model_dump_json(by_alias=True),
        sheet_text=sheet_text,
        bench_json=bench.model_dump_json(by_alias=True),
        bench_text=bench_text or "",
        started_utc_ns=imported.started_utc_ns,
        zone=imported.zone,
        origin="import",
        version=version("bainlog"),
        channels=tuple(
            # Also those that the file has no column of, as in a live run that never heard them.
            ChannelRecord(c.id, c.instrument, c.field, c.role, imported.units.get(c.id, c.unit))
            for c in bench.channel
        ),
    )
    file = RunWriter.create(path, header)
    try:
        _fill(file, imported, sheet, slab_events(sheet, slabs or {}))
        with RunView.open(path) as view:
            results = judge(view, fats)[1].finish(view.duration_ns)
        results[1].derived = derived_at_end(path)
        file.write(WriteBatch(events=results[0]))
        file.finish(results[1], imported.started_utc_ns + imported.duration_ns)
    except BaseException:
        file.close()
        path.unlink(missing_ok=True)
        raise
    return run_id


def _bench(imported: Imported, bench_text: str | None) -> Bench:
    if bench_text is None:
        try:
            return bench_of_roles(list(imported.units))
        except ValueError as cause:
            raise InputError(imported.name, str(cause), "rename it or give --bench") from cause
    bench = bench_from_text(bench_text, "the bench file")
    missing = sorted(set(imported.units) - {c.id for c in bench.channel})
    if missing:
        raise InputError(
            imported.name,
            f"channel {missing[0]!r} is not in the bench file",
            "its channels are " + ", ".join(c.id for c in bench.channel),
        )
    return bench


def _require_units(imported: Imported, bench: Bench) -> None:
    """Refuse a column of a mass with the role of a temperature, and the other way round."""
    for channel in bench.channel:
        found = imported.units.get(channel.id)
        if found is not None and (found == "g") != (channel.unit == "g"):
            raise InputError(
                f"{imported.name}: column {channel.id} [{found}]",
                f"the role {channel.role} is for a {_MEASURES[channel.unit]}",
                f"give it in {channel.unit}, or give the column another role",
            )


def _fill(file: RunWriter, imported: Imported, sheet: Sheet, known: Sequence[Event]) -> None:
    def keep(piece: list[StoredReading]) -> None:
        file.write(WriteBatch(readings=piece))
        file.compact()

    imported.hand_over(keep)
    events = [*known, *imported.events]
    if len(sheet.stage) == 1 and not any(e.kind in ("stage", "next") for e in events):
        # The only stage spans the run.
        only = {"stage": sheet.stage[0].id}
        events.insert(len(known), Event(t_ns=0, kind="stage", source="operator", data=only))
    events.append(
        Event(t_ns=imported.duration_ns, kind="run_end", source="operator", text="end of the file")
    )
    file.write(WriteBatch(events=events))
