"""A whole run as plain data, between a run file and its exports.

``bundle_of`` reads it from a run file, ``keep`` makes a run file of it; a bundle that went through
both is the same. Used by ``exporting`` and ``restoring``.
"""

import base64
import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Any

import numpy as np

from logger.model.errors import InputError
from logger.model.event import Event
from logger.model.photos.jpeg import MOST_BYTES, require_kept_form
from logger.model.photos.row import photos_said
from logger.model.plainly import results_as_json, results_from
from logger.store.exchange.checked import head_from, require_order, require_series
from logger.store.exchange.digests import FORMAT_VERSION, UNSEALED_VERSION
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.given import opened
from logger.store.run.changes.keyed_findings import keyed_findings
from logger.store.run.records import (
    Anchor,
    ChannelRecord,
    Chunk,
    Outcome,
    RunHeader,
    Series,
    StoredReading,
    WriteBatch,
    plain,
)
from logger.store.run.view import RunView
from logger.store.run.writer import RunWriter

FORMAT = "bainlog run"
_PIECE = 50_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bundle:
    """Everything that a run file says.

    Attributes
    ----------
    results : dict or None
        JSON values of ``Results``.
    readings : dict
        Series by channel id.
    """

    header: RunHeader
    ended_utc_ns: int | None
    interrupted: bool
    outcome: Outcome
    results: dict[str, Any] | None
    readings: dict[str, Series]
    events: list[Event]
    chunks: list[Chunk]
    anchors: list[Anchor]
    counters: dict[str, dict[str, int]]
    photos: dict[str, bytes] = field(default_factory=dict)
    """Pictures by their digest."""
    remarks: tuple[str, ...] = ()
    """What is to be known of where it came from, in sentences."""


def bundle_of(view: RunView) -> Bundle:
    """Read a whole run.

    Raises
    ------
    StoreError
        If the file is damaged.
    """
    with view.together():
        results = view.results()
        return Bundle(
            header=view.header,
            ended_utc_ns=view.ended_utc_ns,
            interrupted=view.ended_utc_ns is not None and view.status == "interrupted",
            outcome=view.outcome(),
            results=None if results is None else results_as_json(results),
            readings={channel.id: view.readings(channel.id) for channel in view.channels()},
            events=view.events(),
            chunks=list(view.chunks()),
            anchors=view.anchors(),
            counters=view.counters(),
            photos={
                one.sha256: picture
                for one in photos_said(view.events())
                if (picture := view.photo(one.sha256)) is not None
            },
        )


def head_of(bundle: Bundle) -> dict[str, Any]:
    """Return all but readings, events and raw bytes, as JSON values."""
    run = {
        f.name: getattr(bundle.header, f.name) for f in fields(RunHeader) if f.name != "channels"
    }
    run |= {"ended_utc_ns": bundle.ended_utc_ns, "interrupted": bundle.interrupted}
    run |= {
        "outcome": bundle.outcome.outcome,
        "defects": list(bundle.outcome.defects),
        "outcome_note": bundle.outcome.note,
    }
    return {
        "format": FORMAT,
        "version": FORMAT_VERSION,
        "run": run,
        "channels": [channel._asdict() for channel in bundle.header.channels],
        "anchors": [anchor._asdict() for anchor in bundle.anchors],
        "counters": bundle.counters,
        "results": plain(bundle.results),
    }


def bundle_from(
    head: Any, readings: dict[str, Series], events: list[Event], chunks: list[Chunk], name: str
) -> Bundle:
    """Return a bundle from the JSON values of `head_of` and the rest.

    Parameters
    ----------
    head : dict
        JSON value of `head_of`.
    readings : dict of Series
        By channel.
    events : list of Event
        In their order.
    chunks : list of Chunk
        Raw bytes, in their order.
    name : str
        The file's, for messages.

    Raises
    ------
    InputError
        If the head is not that of a run, or of a later version, or anything in it is not as it
        must be.
    """
    if not isinstance(head, dict) or head.get("format") != FORMAT:
        raise InputError(name, "not an export of a run", f'expected "format": "{FORMAT}"')
    _require_version(head.get("version"), name)
    whole = head_from({**head, "results": keyed_findings(head.get("results"))}, name)
    known = [channel.id for channel in whole.channels]
    if set(readings) != set(known):
        odd = sorted(set(readings) ^ set(known))[0]
        raise InputError(name, f"readings and channels differ in {odd!r}", "export the run again")
    for channel, series in readings.items():
        require_series(channel, series, name)
    require_order(events, name)
    run = {f.name: getattr(whole.run, f.name) for f in fields(RunHeader) if f.name != "channels"}
    return Bundle(
        header=RunHeader(
            **run, channels=tuple(ChannelRecord(**c.model_dump()) for c in whole.channels)
        ),
        ended_utc_ns=whole.run.ended_utc_ns,
        interrupted=whole.run.interrupted,
        outcome=Outcome(
            outcome=whole.run.outcome,
            defects=tuple(whole.run.defects),
            note=whole.run.outcome_note,
        ),
        results=whole.results,
        readings={channel: readings[channel] for channel in known},
        events=events,
        chunks=chunks,
        anchors=[Anchor(**anchor.model_dump()) for anchor in whole.anchors],
        counters=whole.counters,
    )


def photo_name(sha256: str) -> str:
    """Return the name of a picture's file in the folder of an export."""
    return f"photo-{sha256[:16]}.jpg"


def picture_in(folder: Path, sha256: str) -> bytes:
    """Return a picture out of the folder of an export.

    Raises
    ------
    InputError
        If it is not there, or larger than any.
    """
    with opened(folder / photo_name(sha256), MOST_BYTES) as file:
        return file.read()


def picture_of(photos: Any, sha256: str) -> bytes:
    """Return a picture out of the JSON values of an export; empty where it is none."""
    text = photos.get(sha256) if isinstance(photos, dict) else None
    try:
        return base64.b64decode(text, validate=True) if isinstance(text, str) else b""
    except ValueError:
        return b""


def with_photos(
    bundle: Bundle, find: Callable[[str], bytes], place: Path, *, edited: bool
) -> Bundle:
    """Return a bundle with the pictures that its events name.

    Parameters
    ----------
    bundle : Bundle
        As it was read.
    find : callable
        Gives a picture by its digest.
    place : Path
        The export, for messages.
    edited : bool
        Leave out a picture that is not as it was exported.

    Raises
    ------
    InputError
        If one is not as it was exported, and that is not to be taken.
    """
    photos: dict[str, bytes] = {}
    for one in photos_said(bundle.events):
        try:
            picture = find(one.sha256)
            require_kept_form(picture, photo_name(one.sha256))
            if hashlib.sha256(picture).hexdigest() != one.sha256:
                raise InputError(photo_name(one.sha256), "another picture", "use a copy of it")
        except InputError as cause:
            if edited:
                continue
            found = f"a photo is not as it was exported ({cause})"
            wanted = "export the run again, or add --edited to leave it out"
            raise InputError(str(place), found, wanted) from cause
        photos[one.sha256] = picture
    return replace(bundle, photos=photos)


def _require_version(version: Any, name: str) -> None:
    if isinstance(version, int) and version > FORMAT_VERSION:
        raise InputError(
            name,
            f"made by a newer version of bainlog (export format {version}, this one reads up to "
            f"{FORMAT_VERSION})",
            "update bainlog to import it",
        )
    if version not in (UNSEALED_VERSION, FORMAT_VERSION) or isinstance(version, bool):
        found = f"export format {str(version)[:40]}"
        raise InputError(name, found, f"this bainlog reads 1 to {FORMAT_VERSION}")


def keep(bundle: Bundle, folder: DataFolder) -> str:
    """Make a run file of a bundle and return its id: its own where that is free.

    Raises
    ------
    StoreError
        If it cannot be written; nothing is left behind then.
    """
    header = bundle.header
    run_id = header.run_id
    if folder.run_path(run_id).exists():
        run_id = folder.new_run_id(header.started_utc_ns, header.zone)
    path = folder.run_path(run_id)
    values = {f.name: getattr(header, f.name) for f in fields(RunHeader)}
    file = RunWriter.create(path, RunHeader(**(values | {"run_id": run_id})))
    try:
        _fill(file, bundle)
    except BaseException:
        file.close()
        remove(path)
        raise
    return run_id


def remove(path: Path) -> None:
    """Remove a run file that is closed, with its log."""
    for name in (path.name, f"{path.name}-wal", f"{path.name}-shm"):
        path.with_name(name).unlink(missing_ok=True)


def _fill(file: RunWriter, bundle: Bundle) -> None:
    for channel, series in bundle.readings.items():
        for piece in pieces_of(channel, series):
            file.write(WriteBatch(readings=piece))
            file.compact()
    for start in range(0, len(bundle.chunks), _PIECE):
        file.write(WriteBatch(chunks=bundle.chunks[start : start + _PIECE]))
        file.compact()
    for picture in bundle.photos.values():
        file.keep_picture(picture)
    file.write(WriteBatch(events=bundle.events, anchors=bundle.anchors, counters=bundle.counters))
    results = None if bundle.results is None else results_from(bundle.results)
    if bundle.ended_utc_ns is not None:
        file.finish(results, bundle.ended_utc_ns, interrupted=bundle.interrupted)
        return
    if results is not None:
        file.set_results(results)
    file.tidy()
    file.close()


def pieces_of(channel: str, series: Series) -> Iterator[list[StoredReading]]:
    """Yield a series as stored readings, some ten thousand at a time."""
    for start in range(0, len(series), _PIECE):
        cut = slice(start, start + _PIECE)
        cold = series.cold_junction
        colds = [np.nan] * len(series.t_ns[cut]) if cold is None else cold[cut].tolist()
        rows = zip(
            series.t_ns[cut].tolist(),
            series.value[cut].tolist(),
            series.flags[cut].tolist(),
            colds,
            strict=True,
        )
        yield [
            StoredReading(channel, t, None if v != v else v, flags, None if c != c else c)
            for t, v, flags, c in rows
        ]
