"""What is known of a finished run, as the rest of the review takes it.

Pure: results and sheet are values, the readings come through a function that is handed in. From a
run file's view it is made with `facts_of`.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from logger.correct.channel import Corrector
from logger.model.bench import Bench, Channel
from logger.model.event import Event
from logger.model.finding import Finding, Results
from logger.model.history import piece_defects
from logger.model.kinds.registry import Stage
from logger.model.rows import PourRow, StageRow
from logger.model.sheet import Sheet
from logger.review.features.feature import Span, judging_key
from logger.review.trace import UNJUDGED, StoredHeader, StoredRun, Trace, corrected, corrector_of
from logger.science.fats.fats import Fat
from logger.watch.verdict.checks import COVERAGE

ReadTrace = Callable[[str, int, int], Trace]
"""Channel id and a window on the run's axis [ns] to corrected readings."""


class _Named(StoredHeader, Protocol):
    @property
    def run_id(self) -> str:
        """Identity of the run."""


class _Outcome(Protocol):
    @property
    def outcome(self) -> str | None:
        """``accepted``, ``rejected`` or None."""

    @property
    def defects(self) -> Sequence[str]:
        """In the words of the sheet."""


class ReviewedRun(StoredRun, Protocol):
    """The part of a run file's view that a review needs."""

    @property
    def header(self) -> _Named:
        """What is known of the run."""

    def sheet(self) -> Sheet:
        """Return the frozen sheet."""

    def outcome(self) -> _Outcome:
        """Return how it came out."""

    def events(self) -> Sequence[Event]:
        """Return all events, also those added when the run was over."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Readings of one channel that may be judged, between two times.

    Attributes
    ----------
    t_s, value : ndarray, shape (n,)
        Times [s] and values [degC or g]; at least one.
    u : float
        Median standard uncertainty [same unit]; nan when unknown.
    """

    channel: str
    t_s: NDArray[np.float64]
    value: NDArray[np.float64]
    u: float

    @property
    def span(self) -> Span:
        """Where on the trace it lies."""
        return Span(self.channel, float(self.t_s[0]), float(self.t_s[-1]))


@dataclass(frozen=True, slots=True, kw_only=True)
class RunFacts:
    """One run.

    Attributes
    ----------
    outcome : str or None
        ``accepted``, ``rejected`` or None while nobody has said.
    defects : tuple of str
        In the words of the sheet; of a rejected batch also those of its pieces.
    read : callable
        Gives corrected readings.
    fats : mapping
        Fats by key.
    piece_defects : mapping of int to tuple of str
        Defects that were said of single pieces.
    """

    run_id: str
    sheet: Sheet
    bench: Bench
    results: Results
    outcome: str | None
    defects: tuple[str, ...]
    read: ReadTrace
    fats: Mapping[str, Fat] = field(default_factory=dict)
    piece_defects: Mapping[int, tuple[str, ...]] = field(default_factory=dict)

    @property
    def product(self) -> str:
        """Runs of one product are compared."""
        return self.sheet.sheet.product or self.sheet.sheet.name

    def stage(self, kind: str) -> tuple[Stage | None, StageRow | None]:
        """Return the sheet's first stage of a kind and its row as run, None where there is none."""
        stage = next((s for s in self.sheet.stage if s.kind == kind), None)
        if stage is None:
            return None, None
        rows = [r for r in self.results.stages if r.id == stage.id]
        return stage, rows[-1] if rows else None

    def pour(self) -> PourRow | None:
        """Return the pour, all of its stage as one, or None where none has ended."""
        ended = [p for p in self.results.pours if p.end_s is not None]
        largest = max(ended, key=lambda p: p.mass_g or 0.0, default=None)
        return largest and _as_one([p for p in ended if p.stage == largest.stage])

    def judged(self, stage: str, figure: str) -> list[Finding]:
        """Return the findings in a stage that judge a figure and have a value."""
        key, findings = judging_key(figure), self.results.findings
        return [f for f in findings if f.stage == stage and f.key == key and f.value is not None]

    def judged_u(self, stage: str, figure: str) -> float:
        """Return the standard uncertainty that a figure was judged with, the median of all pieces.

        Notes
        -----
        nan where none is known. What pieces share, such as a density, does not shrink with their
        number, so that the mean of all gets no smaller one.
        """
        judged = (f.expanded_uncertainty for f in self.judged(stage, figure))
        known = [u / COVERAGE for u in judged if u is not None]
        return float(np.median(known)) if known else float("nan")

    def window(self, role: str, from_s: float, to_s: float) -> Window | None:
        """Return the readings of the channel of a role that may be judged, or None without any.

        Parameters
        ----------
        role : str
            Of the channel.
        from_s, to_s : float
            Bounds on the run's axis, both included [s].
        """
        channel = self.bench.channel_of(role)
        return self._window(channel, from_s, to_s) if channel is not None else None

    def windows(self, role: str, from_s: float, to_s: float) -> list[Window]:
        """Return the same of each channel of a role that has any.

        Parameters
        ----------
        role : str
            Of the channels.
        from_s, to_s : float
            Bounds on the run's axis, both included [s].
        """
        of_role = [c for c in self.bench.channel if c.role == role]
        return [w for c in of_role if (w := self._window(c, from_s, to_s)) is not None]

    def _window(self, channel: Channel, from_s: float, to_s: float) -> Window | None:
        if to_s <= from_s:
            return None
        trace = self.read(channel.id, round(from_s * 1e9), round(to_s * 1e9))
        keep = np.isfinite(trace.value) & ((trace.flags & UNJUDGED) == 0)
        if not keep.any():
            return None
        known = trace.u[keep]
        return Window(
            channel=channel.id,
            t_s=trace.t_ns[keep] / 1e9,
            value=trace.value[keep],
            u=float(np.median(known)) if known.size else float("nan"),
        )


def _as_one(pours: Sequence[PourRow]) -> PourRow:
    """Return several pours of a stage as one: all that came, from the first to the last."""
    if len(pours) == 1:
        return pours[0]
    mass_g = sum(p.mass_g or 0.0 for p in pours)
    lasted_min = sum((p.mass_g or 0.0) / p.rate_g_per_min for p in pours if p.rate_g_per_min)
    flowed = all(p.rate_g_per_min for p in pours)
    first, last = pours[0], max(pours, key=lambda p: p.end_s or 0.0)
    return replace(
        first,
        end_s=last.end_s,
        end_between_s=last.end_between_s,
        mass_g=mass_g,
        u_mass_g=None,
        rate_g_per_min=mass_g / lasted_min if flowed else None,
        portions=sum(p.portions for p in pours),
        open_g=sum(p.open_g for p in pours),
    )


def weighed_of(facts: RunFacts) -> dict[str, float]:
    """Return what was surely weighed in [g], by ingredient."""
    return {
        str(row.ingredient): float(row.mass_g)
        for row in facts.results.weighings
        if row.mass_g is not None and row.sure
    }


def facts_of(run: ReviewedRun, results: Results, fats: Mapping[str, Fat]) -> RunFacts:
    """Gather what a review needs of a run file's view.

    Parameters
    ----------
    run : ReviewedRun
        View of the run file; must stay open while the facts are used.
    results : Results
        What the engine found.
    fats : mapping
        Fats by key.
    """
    correctors: dict[str, Corrector] = {}

    def read(channel: str, from_ns: int, to_ns: int) -> Trace:
        if channel not in correctors:
            correctors[channel] = corrector_of(run, channel)
        return corrected(run, channel, from_ns, to_ns, corrector=correctors[channel])

    said, of_pieces = run.outcome(), piece_defects(run.events())
    also = [d for defects in of_pieces.values() for d in defects if said.outcome == "rejected"]
    return RunFacts(
        run_id=run.header.run_id,
        sheet=run.sheet(),
        bench=run.bench(),
        results=results,
        outcome=said.outcome,
        defects=tuple(dict.fromkeys([*said.defects, *also])),
        read=read,
        fats=fats,
        piece_defects=of_pieces,
    )
