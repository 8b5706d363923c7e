"""Anything with a time that is not a reading.

Events are stored for ever, in order of their number. Those from the bench, the operator and the
recorder are input to the engine and are fed again on replay; those from the engine are its output
and are worked out again.
"""

from dataclasses import dataclass, field
from typing import Any, Literal

Source = Literal["bench", "operator", "recorder", "engine"]

OPERATOR_KINDS = (
    "run_start",  # text: sheet name
    "run_end",
    "stage",  # data: {"stage": id}; the stage begins now, the one before it ends; with "at_ns" it
    # begins at that earlier time
    "next",  # the next stage of the sheet begins now
    "mark",  # the foot switch, a key or a button; data may name {"piece": n}
    "undo",  # takes back one of `ACTS`: data {"event": seq, "at_ns": t} names it by number and
    # time, for a live act has no number yet; {"was_s": t, "by": who, "utc": when} is what is kept
    "move",  # data: the same and {"to_s": t}; one of `MOVABLE` happened at another time
    "note",  # text
    "photo",  # text; data: {"sha256": ..., "width": px, "height": px}, a picture that the run file
    # holds; with "piece" it shows one piece
    "remove_photo",  # data: {"sha256": ...}; the run file holds that picture no longer
    "confirm_piece",  # data: {"immersion": n, "piece": m}
    "piece_in",  # data: {"piece": n}; a piece goes into the bath now, by hand or key
    "piece_out",  # data: {"piece": n}
    "register_piece",  # data: {"piece": n, "mass_g": m}
    "ack",  # data: {"alarm": id}
    "shelve",  # data: {"alarm": id, "for_s": s}
    "unshelve",  # data: {"alarm": id}
    "reset_latch",  # data: {"alarm": id}
    "out_of_service",  # data: {"alarm": id}; its probe was taken out on purpose
    "in_service",  # data: {"alarm": id}
    "accept",  # data: {"proposal": id}
    "decline",  # data: {"proposal": id}
    "set_value",  # data: {"name": ..., "value": ..., "unit": ...}: typed by hand
    "outcome",  # data: {"outcome": "accepted"|"rejected", "defects": [...]}; with "pieces", a list
    # of {"piece": n, "defects": [...]}, of single pieces; without it what was said of them stays
)
"""What a person can say to the recorder; the same words are the control commands."""

PHOTO, REMOVE_PHOTO = "photo", "remove_photo"

ACTS = frozenset(
    {
        "stage",
        "next",
        "mark",
        "foot_mark",
        "confirm_piece",
        "piece_in",
        "piece_out",
        "register_piece",
        "accept",
        "decline",
        "set_value",
    }
)
"""Events that can be taken back."""
MOVABLE = frozenset({"stage", "next", "mark", "foot_mark", "piece_in", "piece_out"})
"""Those of them whose time means something."""
LAST_ACTS = 10
"""So many of the last acts can be taken back."""

BENCH_KINDS = (
    "connected",
    "lost",
    "wrong_device",
    "bad_lines",
    "bad_lines_over",
    "overload",
    "underload",
    "open",
    "fault",
    "error",
    "busy",
    "refused",
    "tare",
    "unit_change",
    "bad_line",
    "too_long",
    "banner",
    "foot_mark",
    "foot_undo",
    "counters",
    "cold_junction",
)
"""What the instruments and their ports say."""

RECORDER_KINDS = (
    "clock_step",
    "suspended",
    "resumed",
    "interrupted",
    "disk_full",
    "disk_ok",
    "dropped",
    "bug_in_reading",  # bytes that could not be read are kept; replay reads them again
    "bug_in_judging",  # readings are kept; replay judges them again
    "not_saved",  # a part that the run file refused
    "go_on",  # an ended run goes on; data: {"missed_s": s, "ended_s": t, "utc": when}
    "slab_test",  # data: the slab test of the sheet's alginate that the run is judged with
)
"""What the recorder says about itself."""

ENGINE_KINDS = (
    "stage_start",
    "stage_end",
    "gap",
    "stale",
    "stuck",
    "rate_drop",
    "tare_suspected",
    "tare_counted",
    "pour_start",
    "pour_end",
    "setting_suspected",
    "setting_confirmed",
    "crossed",
    "ready",
    "immersion_in",
    "immersion_out",
    "immersion_changed",
    "piece_registered",
    "alarm",
    "proposal",
    "finding",
    "weighed",
    "taken_back",
    "dated_back",
    "not_done",
    "exchange_suspected",
    "freezing_plateau",
    "probe_moved",  # data: {"from_c": t, "to_c": t, "from_s": last time at the first level}
)
"""What the engine works out."""

KNOWN_KINDS = frozenset((*OPERATOR_KINDS, *BENCH_KINDS, *RECORDER_KINDS, *ENGINE_KINDS))
"""All of them; a run of a newer edition may hold others."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One event.

    Attributes
    ----------
    t_ns : int
        When it happened on the run's axis [ns].
    kind : str
        One of the kinds of this module.
    source : str
        Who says so.
    channel, port, stage : str or None
        What it is about.
    text : str
        In plain words; what a person typed stays as typed.
    data : dict
        JSON values only.
    seq : int
        Number in the run file; 0 before it is stored.
    """

    t_ns: int
    kind: str
    source: Source
    channel: str | None = None
    port: str | None = None
    stage: str | None = None
    text: str = ""
    data: dict[str, Any] = field(default_factory=dict)
    seq: int = 0


def silence_id(channel_id: str) -> str:
    """Return the id of the alarm of a channel that sends nothing."""
    return channel_id + _SILENCE


def is_silence(alarm_id: str) -> bool:
    """Whether an alarm is about a channel that sends nothing."""
    return alarm_id.endswith(_SILENCE)


_SILENCE = ".stale"
