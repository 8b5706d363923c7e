"""Rows of a run's results and of its state: one record for each kind of row.

Plain data with the same names in the run file, on the control line and in ``--json``. Times are
seconds on the run's axis. ``logger.model.plainly`` turns them into JSON values and back.
"""

from dataclasses import dataclass, field


@dataclass(slots=True, kw_only=True)
class StageRow:
    """A stage as it was run, or as the sheet plans it.

    Attributes
    ----------
    planned_s, paused_s : float or None
        How long the sheet lets it take; how long the batch was ended in it before it went on [s].
    start_s, end_s : float or None
        On the run's axis [s]; None before it began, or while it runs.
    """

    id: str
    kind: str
    title: str = ""
    planned_s: float | None = None
    start_s: float | None = None
    end_s: float | None = None
    paused_s: float = 0.0


@dataclass(slots=True, kw_only=True)
class PourRow:
    """One pour seen by the bowl scale.

    Attributes
    ----------
    start_s, end_s : float or None
        [s]; no end while it runs.
    start_between_s, end_between_s : tuple or None
        Beginning and end with 90 % [s].
    mass_g, u_mass_g : float
        Poured mass and its standard uncertainty [g], the scale's own apart.
    rate_g_per_min : float or None
        Mean rate [g/min]; None where most did not flow, as with a ladle.
    portions : int
        In how many portions it came.
    open_g : float
        How much more or less it may be, because it can't be told what came [g].
    """

    channel: str | None
    start_s: float
    end_s: float | None = None
    start_between_s: tuple[float, float] | None = None
    end_between_s: tuple[float, float] | None = None
    mass_g: float | None = None
    u_mass_g: float | None = None
    rate_g_per_min: float | None = None
    portions: int = 1
    open_g: float = 0.0
    stage: str = ""


@dataclass(slots=True, kw_only=True)
class ImmersionRow:
    """One immersion in the bath.

    Attributes
    ----------
    immersion, piece : int or None
        Number of the row, from 1; its piece, None for one more than there are.
    in_s, out_s, dwell_s : float or None
        [s]; None while it is not over, or where a gap hides it.
    in_between_s, out_between_s, dwell_between_s : tuple or None
        Intervals [s] where a gap hides a moment.
    mass_in_g, mass_out_g : float or None
        Mass on its way in and out [g].
    set_fraction, confidence : float or None
        Share of the skin that has set; probability that the row is this piece's [1].
    candidates : list of float
        Other dwells it may have [s].
    """

    stage: str = ""
    immersion: int = 0
    piece: int | None = None
    channel: str | None = None
    in_s: float | None = None
    out_s: float | None = None
    dwell_s: float | None = None
    in_between_s: tuple[float, float] | None = None
    out_between_s: tuple[float, float] | None = None
    dwell_between_s: tuple[float, float] | None = None
    mass_in_g: float | None = None
    mass_out_g: float | None = None
    set_fraction: float | None = None
    confidence: float | None = None
    ambiguous: bool = False
    by_hand: bool = False
    candidates: list[float] = field(default_factory=list)
    verdict: str = "not measured"

    @property
    def inside(self) -> bool:
        """Whether the piece is in the bath: one that a gap hides on its way out is not."""
        return self.out_s is None and self.out_between_s is None


@dataclass(slots=True, kw_only=True)
class PieceRow:
    """What is known of one formed piece: masses [g], coat [mm], dwell [s], set share [1]."""

    piece: int
    bare_mass_g: float | None = None
    coat_mass_g: float | None = None
    coat_mm: float | None = None
    dwell_s: float | None = None
    set_fraction: float | None = None


@dataclass(slots=True, kw_only=True)
class SettingRow:
    """A fat that was seen to set: onset [s] with its standard uncertainty, temperature [degC]."""

    channel: str
    onset_s: float
    temp_c: float
    state: str = ""
    u_onset_s: float | None = None
    stage: str = ""


@dataclass(slots=True, kw_only=True)
class Left:
    """A time left with its 90 % interval [s]; None for an end that may never come."""

    early: float | None
    likely: float | None
    late: float | None


@dataclass(slots=True, kw_only=True)
class ForecastRow:
    """What was foretold at one minute [s]: when a channel reaches a limit [degC]."""

    channel: str | None
    at_s: float
    limit_c: float | None
    left_s: Left


SURE_WEIGHED = 0.97
"""Probability from which a load on the scale counts as an ingredient [1]."""


@dataclass(slots=True, kw_only=True)
class WeighingRow:
    """One ingredient as it was weighed in; masses and uncertainty [g], time [s].

    Attributes
    ----------
    how : str
        ``scale``, or how else the mass is known.
    confidence : float or None
        Probability that the scale's load was this ingredient [1]; None where that is no question.
    portions : int
        Changes of load that made it.
    """

    ingredient: str
    phase: str
    lot: str = ""
    target_g: float | None = None
    mass_g: float | None = None
    expanded_uncertainty_g: float | None = None
    t_s: float | None = None
    how: str = "scale"
    confidence: float | None = None
    portions: int = 1

    @property
    def sure(self) -> bool:
        """Whether the mass is known to be the ingredient's."""
        return self.confidence is None or self.confidence >= SURE_WEIGHED


@dataclass(slots=True, kw_only=True)
class AlarmRow:
    """One alarm of a run's history; times [s]."""

    id: str
    text: str
    stage: str | None = None
    channel: str | None = None
    priority: str = "high"
    from_s: float | None = None
    acked_s: float | None = None
    to_s: float | None = None
    latched: bool = False
    shelved: bool = False
    at_end: str | None = None
    """State when the run ended; None if it was over by then."""


@dataclass(slots=True, kw_only=True)
class GapRow:
    """A time without values of a channel [s]; no end while it lasts."""

    channel: str
    from_s: float
    to_s: float | None = None
    why: str = ""


@dataclass(slots=True, kw_only=True)
class NoteRow:
    """A note of the operator; time [s]."""

    t_s: float
    text: str
    stage: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultRow:
    """A result that the sheet declares, as it was measured or scored.

    Attributes
    ----------
    value : float
        In `unit`, that of the sheet.
    by : str
        Who tasted, where it is a score; else empty.
    """

    name: str
    value: float
    unit: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionRow:
    """A correction of a run: what, its time before and after [s], who and when.

    Attributes
    ----------
    event : int
        Number of the act's event.
    says : str
        What was done, in words.
    was_s : float
        Time of the act before [s].
    to_s : float or None
        After [s]; None where it was taken back.
    by : str
        Who.
    utc : str
        When, ISO 8601.
    """

    event: int
    says: str
    was_s: float
    to_s: float | None = None
    by: str = ""
    utc: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StartRow:
    """What was said of a batch when it was started; all of it may be empty.

    Attributes
    ----------
    operator : str
        Who makes it.
    size : str
        How much is made, as typed: ``"12 pieces"``.
    lots, instead : dict
        By ingredient: lots that are others than the sheet's, alternatives that were taken.
    """

    operator: str = ""
    size: str = ""
    lots: dict[str, str] = field(default_factory=dict)
    instead: dict[str, str] = field(default_factory=dict)


@dataclass(slots=True, kw_only=True)
class GoOnRow:
    """A run that ended, or was cut off, and can go on.

    Attributes
    ----------
    run, sheet : str
        Its id, the name of its sheet.
    at : str
        When it began, on the wall: ``"14:02"``.
    stage : str
        Title of the stage it was in; empty for none.
    t_s : float
        How far it came [s].
    interrupted : bool
        Whether it was cut off.
    outcome : str
        How it came out, if that was said.
    """

    run: str
    sheet: str
    at: str
    stage: str = ""
    t_s: float = 0.0
    interrupted: bool = False
    outcome: str = ""


@dataclass(slots=True, kw_only=True)
class SensorRow:
    """How the check of a sensor stood on the day of the run."""

    channel: str
    label: str
    check: str
    """good | overdue | never"""
    checked: str | None = None
    """ISO date."""
    ago_days: int | None = None
    due_days: int | None = None
    overdue_days: int | None = None
    says: str = ""


@dataclass(slots=True, kw_only=True)
class DerivedRow:
    """A series worked out when the run ended, kept beside the readings."""

    channel: str
    kind: str
    label: str = ""
    unit: str = "degC"
    time_constant_s: float | None = None
    """Of the probe [s]."""
    source: str = ""
    """Where the time constant comes from."""
    largest_k: float | None = None
    """Farthest from what the probe showed [K]."""
    readings: int = 0
    mean_c: float | None = None
    """Mean of the series [degC]."""
    block: str = ""
    """The series, as ``logger.store.blocks.codec`` packs it."""


@dataclass(slots=True, kw_only=True)
class CostRow:
    """What was weighed in costs: in all, for a piece, for a kg of filling [currency]."""

    currency: str
    batch: float
    piece: float | None = None
    kg: float | None = None
    without: list[str] = field(default_factory=list)
    """Ingredients that have no price."""
    says: str = ""


@dataclass(slots=True, kw_only=True)
class OwnFatRow:
    """A fat by its own cooling curve; temperatures [degC], standard uncertainties [K]."""

    key: str
    toml: str
    """As an entry of a fats file."""
    onset_c: float
    u_onset_k: float
    plateau_c: float
    u_plateau_k: float
    point: str = ""
    """Which point of the curve the plateau is."""
    says: str = ""


@dataclass(slots=True, kw_only=True)
class TareRow:
    """A tare that was accepted: from when on [s], and all that is added from then on [g]."""

    channel: str
    from_s: float
    offset_g: float


@dataclass(slots=True, kw_only=True)
class JudgedRow:
    """How many readings of a channel the results were worked out from."""

    channel: str
    readings: int
