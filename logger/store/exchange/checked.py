"""What an export must be before a run is made of it: its values by kind, range and place.

Models of the JSON values, and checks of series, events and raw bytes. Pure; used by ``bundle`` and
``importing``, which write nothing before all of this has held.
"""

import json
from collections import Counter
from collections.abc import Iterable
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from logger.model.bench import Bench
from logger.model.errors import InputError
from logger.model.event import Event
from logger.model.finding import Results
from logger.model.sheet import Sheet
from logger.store.exchange.results_checked import results_checked
from logger.store.run.records import CHUNK_KINDS, Chunk, Series

MAX_TIME_S = 31 * 86_400
"""Longest time on a run's axis of an export [s]: a month."""
MAX_TIME_NS = MAX_TIME_S * 1_000_000_000
_LATEST_NS = 4_102_444_800_000_000_000
"""2100-01-01 UTC [ns since 1970]."""
_AGAIN = "export the run again"

Name = Annotated[str, Field(min_length=1, max_length=200, pattern=r"^[^\x00-\x1f\x7f]*$")]
Text = Annotated[str, Field(max_length=1_000_000)]
AxisNs = Annotated[int, Field(ge=-MAX_TIME_NS, le=MAX_TIME_NS)]
UtcNs = Annotated[int, Field(ge=0, le=_LATEST_NS)]
ClockNs = Annotated[int, Field(ge=-(2**62), le=2**62)]
Count = Annotated[int, Field(ge=0, le=2**53)]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class RunPart(_Strict):
    """The run itself."""

    run_id: Name
    sheet_json: Text
    sheet_text: Text
    bench_json: Text
    bench_text: Text
    shapes_text: Text
    started_utc_ns: UtcNs
    zone: Name
    boot_id: Annotated[str, Field(max_length=200)]
    clock_speed: Annotated[float, Field(gt=0, le=1e6)]
    origin: Literal["live", "import"]
    version: Annotated[str, Field(max_length=200)]
    ended_utc_ns: UtcNs | None
    interrupted: bool
    outcome: Literal["accepted", "rejected"] | None
    defects: Annotated[list[Text], Field(max_length=100)]
    outcome_note: Text


class ChannelPart(_Strict):
    """One channel."""

    id: Name
    instrument: Name
    field: Name
    role: Name
    unit: Literal["degC", "g", "uV"]


class AnchorPart(_Strict):
    """One look at the clocks."""

    boot_id: Annotated[str, Field(max_length=200)]
    mono_ns: ClockNs
    boottime_ns: ClockNs
    utc_ns: ClockNs
    zone: Name
    t_ns: AxisNs | None


class Head(_Strict):
    """All but readings, events and raw bytes."""

    format: Literal["bainlog run"]
    version: int
    run: RunPart
    channels: Annotated[list[ChannelPart], Field(max_length=256)]
    anchors: Annotated[list[AnchorPart], Field(max_length=100_000)]
    counters: dict[Name, dict[Name, Count]]
    results: dict[str, Any] | None


class EventPart(_Strict):
    """One event."""

    seq: Count
    t_ns: AxisNs
    kind: Name
    source: Literal["bench", "operator", "recorder", "engine"]
    channel: Annotated[str, Field(max_length=200)] | None
    port: Annotated[str, Field(max_length=1_000)] | None
    stage: Annotated[str, Field(max_length=200)] | None
    text: Text
    data: dict[str, Any]


class ActData(BaseModel):
    """What the data of an operator's event may hold, by key; others are kept as they are."""

    model_config = ConfigDict(extra="allow", strict=True, allow_inf_nan=False)

    piece: Count | None = None
    immersion: Count | None = None
    event: Count | None = None
    at_ns: AxisNs | None = None
    mass_g: float | None = None
    for_s: Annotated[float, Field(ge=0, le=MAX_TIME_S)] | None = None
    stage: str | None = None
    alarm: str | None = None
    proposal: str | None = None
    name: str | None = None
    unit: str | None = None
    value: float | str | bool | None = None
    outcome: Literal["accepted", "rejected"] | None = None
    defects: Annotated[list[Text], Field(max_length=100)] = []


_WRONG = {
    "int_type": "not a whole number",
    "float_type": "not a number",
    "string_type": "not text",
    "string_unicode": "half of a character pair in a text",
    "bool_type": "not true or false",
    "dict_type": "not a table",
    "model_type": "not a table",
    "model_attributes_type": "not a table",
    "list_type": "not a list",
    "missing": "missing",
    "extra_forbidden": "an unknown key",
    "finite_number": "a number that is not finite",
}
"""What is wrong, in words, by pydantic's name of it."""


def said_of(cause: ValidationError) -> tuple[str, str]:
    """Return the key of the first thing wrong and what is wrong, without what the file holds."""
    error = cause.errors(include_input=False, include_url=False)[0]
    key = ".".join(str(part + 1 if isinstance(part, int) else part) for part in error["loc"])
    said = str(error["msg"]).removeprefix("Value error, ").replace("Input should", "it must")
    return key[:200], _WRONG.get(error["type"], said[:200])


def head_from(data: Any, name: str) -> Head:
    """Return the head of an export; extra keys beside it are left to the caller.

    Raises
    ------
    InputError
        With the key, if a value is of another kind, or sheet, bench, results or channels do not
        read or do not fit each other.
    """
    try:
        head = Head.model_validate({k: data.get(k) for k in Head.model_fields})
    except ValidationError as cause:
        key, wrong = said_of(cause)
        raise InputError(f"{name}: {key}", f"not a whole export ({wrong})", _AGAIN) from cause
    for key, read in (
        ("run.sheet_json", lambda: Sheet.model_validate_json(head.run.sheet_json)),
        ("run.bench_json", lambda: _fits(head)),
        ("results", lambda: head.results is not None and _results_read(head, head.results)),
        ("counters", lambda: _spoken(head.counters)),
    ):
        try:
            read()
        except ValidationError as cause:
            inner, wrong = said_of(cause)
            where = f"{name}: {key}: {inner}"
            raise InputError(where, f"not a whole export ({wrong})", _AGAIN) from cause
        except (ValueError, RecursionError) as cause:
            raise InputError(f"{name}: {key}", str(cause)[:200], _AGAIN) from cause
    return head


def _results_read(head: Head, results: dict[str, Any]) -> Results:
    sheet = Sheet.model_validate_json(head.run.sheet_json)
    return results_checked(_spoken(results), sheet, MAX_TIME_S)


def _fits(head: Head) -> None:
    known = {c.id for c in Bench.model_validate_json(head.run.bench_json).channel}
    ids = [c.id for c in head.channels]
    twice = [i for i, count in Counter(ids).items() if count > 1]
    if twice:
        raise ValueError(f"channel {twice[0]!r} is there twice")
    if missing := [i for i in ids if i not in known]:
        raise ValueError(f"channel {missing[0]!r} is not on the bench of the run")


def _spoken(value: Any) -> Any:
    """Return a JSON value; refuse text that no file can hold, and numbers that are none."""
    try:
        json.dumps(value, ensure_ascii=False, allow_nan=False).encode("utf-8")
    except UnicodeEncodeError as cause:
        raise ValueError("half of a character pair in a text") from cause
    return value


def event_from(row: Any, where: str) -> Event:
    """Return an event of its JSON values.

    Parameters
    ----------
    row : dict
        As ``records.event_row`` gives it.
    where : str
        File and place, for messages.

    Raises
    ------
    InputError
        If a value is of another kind.
    """
    try:
        part = EventPart.model_validate(row)
        _spoken(part.data)
        if part.source == "operator":
            ActData.model_validate(part.data)
    except ValidationError as cause:
        key, wrong = said_of(cause)
        raise InputError(f"{where}: {key}", wrong, _AGAIN) from cause
    except (ValueError, RecursionError) as cause:
        raise InputError(where, str(cause)[:200], _AGAIN) from cause
    return Event(**{key: getattr(part, key) for key in EventPart.model_fields})


def act_wrong(data: dict[str, Any]) -> str | None:
    """Return what is wrong with the data of an operator's event, or None."""
    try:
        ActData.model_validate(_spoken(data))
    except ValidationError as cause:
        return ": ".join(said_of(cause))
    except (ValueError, RecursionError) as cause:
        return str(cause)[:200]
    return None


def chunk_from(instrument: Any, t_ns: Any, kind: Any, data: Any) -> Chunk:
    """Return raw bytes as they came in one read.

    Parameters
    ----------
    instrument : str
        Id.
    t_ns : int
        On the run's axis [ns].
    kind : str
        Of ``CHUNK_KINDS``.
    data : bytes
        As they came.

    Raises
    ------
    ValueError
        If a value is of another kind.
    """
    if not isinstance(instrument, str) or not 0 < len(instrument) <= 200:
        raise ValueError("not the name of an instrument")
    if not isinstance(t_ns, int) or isinstance(t_ns, bool) or abs(t_ns) > MAX_TIME_NS:
        raise ValueError(f"a time beyond {MAX_TIME_S} s")
    if kind not in CHUNK_KINDS or not isinstance(data, bytes):
        raise ValueError(f"kind is one of {', '.join(CHUNK_KINDS)}")
    return Chunk(instrument, t_ns, kind, data)


def series_from(t_ns: Any, value: Any, flags: Any, cold: Any) -> Series:
    """Return columns with None for no value as a series.

    Parameters
    ----------
    t_ns : list of int, or array
        Times on the run's axis [ns].
    value : list of float or None, or array
        Readings.
    flags : list of int, or array
        Of `Flag`.
    cold : list of float or None, array, or None
        Cold junctions sent with emfs [degC]; None without any.

    Raises
    ------
    ValueError, TypeError
        If they differ in length or are no numbers.
    """
    _require_only(t_ns, int)
    _require_only(value, int, float, type(None))
    _require_only(flags, int)
    if cold is not None:
        _require_only(cold, int, float, type(None))
    colds = None if cold is None else np.asarray(cold, dtype=np.float64)
    if colds is not None and np.isnan(colds).all():
        colds = None
    series = Series(
        t_ns=np.asarray(t_ns, dtype=np.int64),
        value=np.asarray(value, dtype=np.float64),
        flags=np.asarray(flags, dtype=np.int32),
        cold_junction=colds,
    )
    lengths = {len(series.t_ns), len(series.value), len(series.flags)}
    if len(lengths | ({len(colds)} if colds is not None else set())) > 1:
        raise ValueError("columns differ in length")
    return series


def _require_only(column: Any, *kinds: type) -> None:
    """Refuse a list with anything but such values: an array of text would be read as numbers."""
    if isinstance(column, np.ndarray):
        return
    if not isinstance(column, list) or not set(map(type, column)) <= set(kinds):
        raise TypeError("not a list of numbers")


def require_series(channel: str, series: Series, name: str) -> None:
    """Refuse a series that no run file can hold.

    Parameters
    ----------
    channel : str
        Its id.
    series : Series
        Readings of one channel.
    name : str
        The file's, for messages.

    Raises
    ------
    InputError
        If times go back or lie beyond the axis, a number has no end, or a flag is none.
    """
    t_ns, cold = series.t_ns, series.cold_junction
    if not len(t_ns):
        return
    wrong = None
    if int(t_ns.min()) < -MAX_TIME_NS or int(t_ns.max()) > MAX_TIME_NS:
        wrong = f"a time beyond {MAX_TIME_S} s"
    elif (np.diff(t_ns) < 0).any():
        wrong = f"times go back at reading {int(np.argmax(np.diff(t_ns) < 0)) + 2}"
    elif np.isinf(series.value).any() or (cold is not None and np.isinf(cold).any()):
        wrong = "a number that is not finite"
    elif int(series.flags.min()) < 0:
        wrong = "flags below 0"
    if wrong is not None:
        raise InputError(f"{name}: channel {channel!r}", wrong, _AGAIN)


def require_order(events: Iterable[Event], name: str) -> None:
    """Refuse events whose numbers do not go up.

    Raises
    ------
    InputError
        With the number.
    """
    last = 0
    for event in events:
        if event.seq <= last and event.seq:
            raise InputError(f"{name}: event {event.seq}", "its number is not the next", _AGAIN)
        last = max(last, event.seq)
