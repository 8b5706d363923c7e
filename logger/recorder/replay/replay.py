"""A run worked out again: from its stored readings, or from its raw bytes.

Reads a run file and feeds wiring and engine as the recorder did. From raw bytes it gives the same
readings as were stored; the flag of a late reading, which hangs on when it arrived, is taken from
the stored one.
"""

import dataclasses
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from logger.correct.channel import Corrector
from logger.model.errors import InputError
from logger.model.event import Event
from logger.model.finding import Results
from logger.model.history import corrected, stamp_ns
from logger.model.reading import Flag, Reading
from logger.model.sheet import Sheet
from logger.recorder.live.pipeline import Pipeline
from logger.recorder.live.wiring import Taken, Wiring
from logger.recorder.replay.beside import derived
from logger.science.fats.fats import Fat
from logger.store.run.runfile import RunView
from logger.wire.shapes.shape import Shape

AT_ONCE = 200_000
"""Readings of a long run that are judged at a time, about."""
MAX_JUDGED_S = 31 * 86_400
"""Longest run that is judged [s]; a damaged time would be judged for years."""


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """What raw bytes give otherwise than what is stored, per channel."""

    channel: str
    stored: int
    from_raw: int
    differing: int
    damaged: int = 0
    """Readings that are damaged in the file, and not among the stored."""


def _pieces(
    view: RunView, correctors: Mapping[str, Corrector], until_ns: int | None = None
) -> Iterator[tuple[list[Reading], int | None]]:
    """Yield the readings in pieces with the time up to which each goes [ns], `until_ns` for the
    last."""
    count = -(-sum(view.count(channel) for channel in correctors) // AT_ONCE) or 1
    lasting_ns = view.duration_ns if until_ns is None else min(until_ns, view.duration_ns)
    step_ns = (lasting_ns // count // 1000 + 1) * 1000
    from_ns: int | None = None
    for number in range(1, count + 1):
        to_ns = number * step_ns if number < count else until_ns
        yield stored_readings(view, correctors, from_ns, to_ns), to_ns
        from_ns = None if to_ns is None else to_ns + 1000


def stored_readings(
    view: RunView,
    correctors: Mapping[str, Corrector],
    from_ns: int | None = None,
    to_ns: int | None = None,
) -> list[Reading]:
    """Return the stored readings of a run, corrected, in the engine's order.

    Parameters
    ----------
    view : RunView
        The run file.
    correctors : mapping
        Corrector of each channel.
    from_ns, to_ns : int or None
        Bounds on the run's axis, both included [ns].
    """
    readings: list[Reading] = []
    for channel_id, corrector in correctors.items():
        series = view.readings(channel_id, from_ns, to_ns)
        value, u = corrector.values(
            series.value, series.cold_junction, view.header.unit_of(channel_id)
        )
        usable = np.isfinite(value)
        for t_ns, v, one_u, ok, flags in zip(
            series.t_ns.tolist(),
            value.tolist(),
            np.broadcast_to(u, value.shape).tolist(),
            usable.tolist(),
            series.flags.tolist(),
            strict=True,
        ):
            readings.append(Reading(channel_id, t_ns, v if ok else None, one_u, flags))
    readings.sort(key=lambda r: r.t_ns)
    return readings


def correctors_of(view: RunView) -> dict[str, Corrector]:
    """Return the corrector of each channel as it stood when the run began."""
    return {c.id: Corrector(c, view.header.started_date) for c in view.bench().channel}


def replay(
    view: RunView,
    fats: Mapping[str, Fat],
    sheet: Sheet | None = None,
    shapes: Mapping[str, Shape] | None = None,
) -> Results:
    """Judge a run again with today's code.

    Parameters
    ----------
    view : RunView
        The run file.
    fats : mapping
        Fats by key.
    sheet : Sheet or None
        Another sheet to judge by; None is the run's own.
    shapes : mapping, optional
        Line formats; with them readings are taken from the raw bytes.
    """
    results, _ = judge(view, fats, sheet, shapes)
    if view.ended_utc_ns is not None:
        results.derived = derived(view)
    return results


def judge(
    view: RunView,
    fats: Mapping[str, Fat],
    sheet: Sheet | None = None,
    shapes: Mapping[str, Shape] | None = None,
    more: Sequence[Event] = (),
) -> tuple[Results, Pipeline]:
    """Return the results and the pipeline at the end of what is stored.

    Parameters
    ----------
    view : RunView
        The run file.
    fats : mapping
        Fats by key.
    sheet : Sheet or None
        Another sheet to judge by; None is the run's own.
    shapes : mapping, optional
        Line formats; with them readings are taken from the raw bytes.
    more : sequence of Event
        Events as if they were stored behind the others.

    Raises
    ------
    InputError
        If the run lasts for longer than any.
    """
    if view.duration_ns > MAX_JUDGED_S * 1_000_000_000:
        lasting = f"lasts {view.duration_ns // 1_000_000_000} s"
        raise InputError(view.path.name, lasting, f"at most {MAX_JUDGED_S} s can be judged")
    correctors = correctors_of(view)
    pipeline = Pipeline(sheet or view.sheet(), view.bench(), correctors, fats, hold_back_ns=0)
    events = _input(view, more)
    pipeline.offer(events)
    if shapes is None:
        pieces = _pieces(view, correctors)
    else:
        from_raw = [taken.reading for taken in raw_readings(view, shapes)]
        pieces = iter([(sorted(from_raw, key=lambda r: r.t_ns), None)])
    for readings, to_ns in pieces:
        pipeline.offer(readings)
        if to_ns is not None:
            pipeline.advance(to_ns)
    end_ns = view.duration_ns
    if any(e.kind == "run_end" for e in events):
        return pipeline.finish(end_ns)[1], pipeline
    pipeline.advance(end_ns)
    return pipeline.engine.results(), pipeline


def _input(view: RunView, more: Sequence[Event] = ()) -> list[Event]:
    """Return the events that a run is judged by, corrected."""
    return [e for e in corrected([*view.events(), *more]) if e.source != "engine"]


def judged_up_to(view: RunView, fats: Mapping[str, Fat], until_ns: int) -> Pipeline:
    """Return the pipeline of a run under way as it stands at a time, all corrections made.

    Parameters
    ----------
    view : RunView
        The run file; it holds all that was taken up to that time.
    fats : mapping
        Fats by key.
    until_ns : int
        On the run's axis [ns], included.
    """
    correctors = correctors_of(view)
    pipeline = Pipeline(view.sheet(), view.bench(), correctors, fats, hold_back_ns=0)
    pipeline.offer([e for e in _input(view) if stamp_ns(e) <= until_ns])
    for readings, to_ns in _pieces(view, correctors, until_ns):
        pipeline.offer(readings)
        pipeline.advance(until_ns if to_ns is None else to_ns)
    return pipeline


def raw_readings(view: RunView, shapes: Mapping[str, Shape]) -> Iterator[Taken]:
    """Yield the readings that the raw bytes give, port by port in the order of arrival."""
    wiring = Wiring(view.bench(), shapes, view.header.started_date)
    for chunk in view.chunks():
        taken, _ = wiring.take(chunk.instrument, chunk.kind, chunk.data, chunk.t_ns)
        yield from taken


def compare_raw(view: RunView, shapes: Mapping[str, Shape]) -> list[Difference]:
    """Return, per channel, how the readings from raw bytes differ from those stored."""
    again: dict[str, list[tuple[int, float, int]]] = {c.id: [] for c in view.bench().channel}
    late = int(Flag.LATE)
    damaged: Counter[str] = Counter()
    raw_gone = False
    for one in view.damage():
        damaged[one.channel or ""] += one.readings
        raw_gone = raw_gone or one.part == "raw bytes"
    for taken in raw_readings(view, shapes):
        reading, sent = taken.reading, taken.sent
        again[reading.channel].append(
            (reading.t_ns, float("nan") if sent is None else sent, reading.flags)
        )
    differences = []
    for channel_id, rows in again.items():
        series = view.readings(channel_id)
        rows.sort(key=lambda row: row[0])
        stored = sorted(
            zip(
                series.t_ns.tolist(),
                series.value.tolist(),
                (series.flags & ~late).tolist(),
                strict=True,
            ),
            key=lambda row: row[0],
        )
        partial = raw_gone or bool(damaged[channel_id]) or len(rows) != len(stored)
        differing = _unlike(rows, stored) if partial else _unequal(rows, stored)
        differences.append(
            Difference(
                channel=channel_id,
                stored=len(stored),
                from_raw=len(rows),
                differing=differing,
                damaged=damaged[channel_id],
            )
        )
    return differences


_Row = tuple[int, float, int]
"""Time [ns], value as sent, flags."""


def _unequal(rows: list[_Row], stored: list[_Row]) -> int:
    """Return how many differ, one by one; both are whole."""
    return sum(not _same(a, b) for a, b in zip(rows, stored, strict=False))


def _unlike(rows: list[_Row], stored: list[_Row]) -> int:
    """Return how many stored ones are another than the raw bytes give for their time.

    Either side may have holes: what has no counterpart at its time is not compared.
    """
    by_time: dict[int, list[_Row]] = {}
    for row in rows:
        by_time.setdefault(row[0], []).append(row)
    return sum(not any(_same(a, b) for a in by_time[b[0]]) for b in stored if b[0] in by_time)


def _same(one: _Row, other: _Row) -> bool:
    same_value = one[1] == other[1] or (one[1] != one[1] and other[1] != other[1])
    return one[0] == other[0] and same_value and one[2] == other[2]
