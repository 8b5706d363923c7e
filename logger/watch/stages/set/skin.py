"""How far each skin has set in the bath as it is, and what is left of the bath's calcium.

Pure; used by the bath watcher. Samples temperature and calcium once a second and keeps, for every
coat thickness that matters, the running share of the set time that has passed. A piece's progress
is then a difference of two times, whichever piece turns out to have been in. The calcium left is
that of the fresh bath less what the pieces so far bound and carried out, and less or more by what
was ladled out or poured in.
"""

import math
from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from logger.batch.amounts import (
    BathAmounts,
    CoatAmounts,
    bath_amounts,
    body_of,
    coat_amounts,
    unknowns_for,
)
from logger.model.errors import CannotSetError, OutOfRangeError
from logger.model.kinds.set import SetStage
from logger.model.sheet import Sheet
from logger.science.calcium.inventory import (
    Bath,
    after_ladle_out,
    after_piece,
    after_top_up,
    fresh_bath,
)
from logger.science.gel.coating import Body, coat_volume_mm3
from logger.science.gel.dwell import NeededDwell, Unknowns, needed_dwell
from logger.science.gel.gelling import (
    FILM_STILL_M_S,
    FILM_STIRRED_M_S,
    Coat,
    Surroundings,
    calcium_demand,
    set_time_s,
)
from logger.science.gel.slabs import SlabTest
from logger.watch.stages.set.pieces import Piece

NO_BATH_SHARE = 0.5
"""A change of level by more of the bath than this is a vessel put on or taken off."""
DRAG_G = 1.5
"""Bath carried out by a piece [g]: 0.5 to 3 g, from memory."""
MADE_AT_C = 20.0
"""Temperature at which the calcium of a fresh bath is counted [degC]: it does not hang on it."""
COLDEST_C, WARMEST_C = 0.0, 60.0
"""Temperatures for which the diffusivity is known [degC]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gone:
    """A piece that has been in the bath: its coat, how far it set, whether it is out."""

    coat_mm: float
    set_fraction: float
    out: bool


@dataclass(slots=True, kw_only=True)
class SkinClock:
    """Set time passed in the bath as it was, for the coats that matter.

    Attributes
    ----------
    missing : list of str
        What the sheet lacks for it; empty when all is known.
    """

    coat: CoatAmounts | None
    bath: BathAmounts | None
    body: Body | None
    film_m_s: float
    missing: list[str]
    unknowns: Unknowns = field(default_factory=Unknowns)
    """Diffusivity with its range: by the slab test of the alginate, else the published one."""
    cannot: str = ""
    """Why the fresh bath cannot set the coats, and what to do."""
    spent: str = ""
    """Why the bath as it is now cannot, and what to do."""
    demand: float | None = None
    """Calcium that all coats bind, as a share of what the fresh bath held [1]."""
    strength: float | None = None
    calcium_left: float | None = None
    now: Bath | None = None
    _coats_mm: list[float] = field(default_factory=list)
    _pieces: int = 0
    _t_s: list[float] = field(default_factory=list)
    _temp_c: float | None = None
    _done: dict[float, list[float]] = field(default_factory=dict)
    _set_s: dict[tuple[float, float, float], float] = field(default_factory=dict)
    _needed: dict[tuple[float, float, float], NeededDwell | None] = field(default_factory=dict)

    @property
    def refused(self) -> str:
        """Why the bath cannot set the coats and what to do, for the cook; empty when it can."""
        return self.cannot or self.spent

    @property
    def why(self) -> str:
        """The same for a finding."""
        if self.cannot:
            return "this bath cannot set these coats"
        return "more calcium has left than this bath held" if self.spent else ""

    @property
    def known(self) -> bool:
        """Whether progress is known at all."""
        return not self.missing and not self.refused

    def begin(self, coats_mm: list[float], pieces: int) -> None:
        """Make up the bath and see whether it can set all the coats.

        Parameters
        ----------
        coats_mm : list of float
            Thicknesses known or expected [mm].
        pieces : int
            How many pieces will share the bath.
        """
        if self.missing or self.coat is None or self.bath is None or self.body is None:
            return
        self._coats_mm, self._pieces = coats_mm, pieces
        try:
            fresh = fresh_bath(
                self.bath.mass_g, self.bath.mass_fraction, self.bath.salt.anhydrous_g_mol
            )
        except OutOfRangeError:
            fresh = None
        self.demand = self.demand_of(pieces)
        if fresh is not None and self.demand is not None and self.demand < 1.0:
            self.now, self.strength, self.calcium_left = fresh, 1.0, 1.0
            return
        held = "it holds no free calcium"
        if self.demand is not None:
            held = f"their alginate binds {self.demand:.1f} times the calcium it holds"
        self.cannot = f"This bath cannot set these coats: {held}. Add salt or a fresh bath."

    def demand_of(self, pieces: int) -> float | None:
        """Return the calcium that so many coats bind, as a share of what the fresh bath held [1].

        Of as many pieces as were expected at the beginning, or more where more came; None where it
        is unknown.
        """
        if self.bath is None or self.coat is None or self.body is None or not self._coats_mm:
            return None
        volume_mm3 = sum(coat_volume_mm3(mm, self.body) for mm in self._coats_mm)
        volume_mm3 *= max(1.0, max(pieces, self._pieces) / len(self._coats_mm))
        free, volume_ml = self.bath.free_mol_m3(MADE_AT_C), self.bath.volume_ml(MADE_AT_C)
        try:
            return calcium_demand(volume_mm3, self.coat.capacity_mol_m3, volume_ml, free)
        except CannotSetError:
            return None

    def sample(self, t_s: float, temp_c: float | None, coats_mm: set[float]) -> None:
        """Let a second pass at a bath temperature.

        Parameters
        ----------
        t_s : float
            Now [s].
        temp_c : float or None
            Bath temperature [degC]; None, and what no bath has, keeps the last one known.
        coats_mm : set of float
            Coats to keep the progress of [mm].
        """
        if temp_c is not None and COLDEST_C <= temp_c <= WARMEST_C:
            self._temp_c = temp_c
        if not self.known or self._temp_c is None:
            return
        elapsed_s = t_s - self._t_s[-1] if self._t_s else 0.0
        for mm in coats_mm:
            if mm not in self._done:
                # From the start of the stage on, as if the bath had been as it is.
                rate = 1.0 / self._time_s(mm)
                self._done[mm] = [rate * (t - self._t_s[0]) for t in self._t_s]
        self._t_s.append(t_s)
        for mm, done in self._done.items():
            done.append((done[-1] if done else 0.0) + elapsed_s / self._time_s(mm))

    def share(self, coat_mm: float, in_s: float, out_s: float) -> float | None:
        """Return the share of a coat that the gel front could pass between two times [1].

        Parameters
        ----------
        coat_mm : float
            Thickness of the coat [mm].
        in_s, out_s : float
            When the piece went in and came out [s].

        Returns
        -------
        float or None
            Above 1 with time to spare; None where it is unknown.
        """
        done = self._done.get(coat_mm)
        if not self.known or not done or out_s < in_s:
            return None
        passed = self._at(done, out_s, coat_mm) - self._at(done, in_s, coat_mm)
        return math.sqrt(max(0.0, passed))

    def left_s(self, coat_mm: float, share: float) -> float | None:
        """Return how long [s] a coat [mm] set to a share [1] still needs in the bath as it is."""
        if not self.known or self._temp_c is None:
            return None
        return max(0.0, 1.0 - share * share) * self._time_s(coat_mm)

    def needed(self, coat_mm: float) -> NeededDwell | None:
        """Return the dwell that a coat [mm] needs in the bath as it is; None where unknown."""
        if not self.known or self._temp_c is None or self.coat is None:
            return None
        temp_c, strength = self._conditions()
        key = (coat_mm, temp_c, strength)
        if key not in self._needed:
            self._needed[key] = self._worked_out(coat_mm, temp_c, strength)
        return self._needed[key]

    def account(self, gone: list[Gone], drag_g: float | None, others_g: list[float]) -> None:
        """Work out what is left in the bath: see `left_after`.

        Parameters
        ----------
        gone : list of Gone
            Pieces so far.
        drag_g : float or None
            Bath that leaves with a piece [g].
        others_g : list of float
            Lasting changes that no piece explains [g].
        """
        if self.missing or self.cannot or not self.bath or not self.coat or not self.body:
            return
        try:
            self.now = left_after(self.bath, self.coat, self.body, gone, drag_g, others_g)
        except OutOfRangeError:
            self.spent = "More calcium has left than this bath held: make a fresh one."
            return
        self.spent = ""
        self.strength, self.calcium_left = self.now.strength, self.now.calcium_left

    def _conditions(self) -> tuple[float, float]:
        """Temperature [degC] and strength, rounded: what follows is then worked out rarely."""
        return round(self._temp_c or 0.0, 1), round(self.strength or 1.0, 2)

    def _around(self, temp_c: float, strength: float) -> Surroundings:
        free = 0.0 if self.bath is None else self.bath.free_mol_m3(temp_c) * strength
        return Surroundings(temp_c=temp_c, free_calcium_mol_m3=free, film_m_s=self.film_m_s)

    def _coat(self, coat_mm: float) -> Coat:
        capacity = 0.0 if self.coat is None else self.coat.capacity_mol_m3
        return Coat(thickness_mm=coat_mm, capacity_mol_m3=capacity, body=self.body)

    def _worked_out(self, coat_mm: float, temp_c: float, strength: float) -> NeededDwell | None:
        try:
            return needed_dwell(
                self._coat(coat_mm), self._around(temp_c, strength), unknowns=self.unknowns
            )
        except CannotSetError:
            return None

    def _time_s(self, coat_mm: float) -> float:
        """Set time in the bath as it is [s]."""
        temp_c, strength = self._conditions()
        key = (coat_mm, temp_c, strength)
        if key not in self._set_s:
            self._set_s[key] = set_time_s(
                self._coat(coat_mm),
                self._around(temp_c, strength),
                d25_m2_s=self.unknowns.d25_m2_s,
            )
        return self._set_s[key]

    def _at(self, done: list[float], t_s: float, coat_mm: float) -> float:
        """Share of set time passed from the first sample to a time; beyond the samples, on."""
        times = self._t_s
        if t_s <= times[0]:
            return done[0] - (times[0] - t_s) / self._time_s(coat_mm)
        if t_s >= times[-1]:
            return done[-1] + (t_s - times[-1]) / self._time_s(coat_mm)
        place = bisect_right(times, t_s)
        part = (t_s - times[place - 1]) / (times[place] - times[place - 1])
        return done[place - 1] + part * (done[place] - done[place - 1])


def skin_clock(
    sheet: Sheet,
    stage: SetStage,
    weighed_g: Mapping[str, float] | None = None,
    slabs: Mapping[str, SlabTest] | None = None,
) -> SkinClock:
    """Return the clock for a bath stage, with what the sheet lacks for it.

    Parameters
    ----------
    sheet : Sheet
        Its coat, bath and pieces.
    stage : SetStage
        Stirred or still.
    weighed_g : mapping, optional
        What was weighed in, by ingredient name [g].
    slabs : mapping, optional
        Slab tests by folded name of the alginate.
    """
    coat, bath, body = (
        coat_amounts(sheet, weighed_g),
        bath_amounts(sheet, weighed_g),
        body_of(sheet),
    )
    wanted = {
        "alginate, up to 10 %, in the coat phase": coat,
        "a calcium salt with its hydrate, and water, in the bath phase": bath,
        "the shape of a piece": body,
    }
    return SkinClock(
        coat=coat,
        bath=bath,
        body=body,
        film_m_s=FILM_STIRRED_M_S if stage.stirred else FILM_STILL_M_S,
        missing=[name for name, found in wanted.items() if found is None],
        unknowns=unknowns_for(sheet, slabs or {}),
    )


def gone_of(pieces: Sequence[Piece], coat_of_mm: Callable[[int], float]) -> list[Gone]:
    """Return the rows of a bath as what they take from it.

    A skin of unknown progress counts as set through.
    """
    return [
        Gone(
            coat_mm=coat_of_mm(p.row.piece),
            set_fraction=1.0 if p.set_fraction is None else p.set_fraction,
            out=not p.inside,
        )
        for p in pieces
    ]


def left_after(
    amounts: BathAmounts,
    coat: CoatAmounts,
    body: Body,
    gone: Sequence[Gone],
    drag_g: float | None,
    others_g: Sequence[float],
) -> Bath:
    """Return the bath as it is now.

    Parameters
    ----------
    amounts : BathAmounts
        As it was made up.
    coat, body : CoatAmounts, Body
        What the pieces bring.
    gone : sequence of Gone
        Pieces so far, those still in included.
    drag_g : float or None
        Bath that leaves with a piece, as learned from this run [g].
    others_g : sequence of float
        Lasting changes that no piece explains [g]: water poured in, bath ladled out.

    Raises
    ------
    OutOfRangeError
        If more calcium has left than there was.
    """
    bath = fresh_bath(amounts.mass_g, amounts.mass_fraction, amounts.salt.anhydrous_g_mol)
    for change_g in others_g:
        if abs(change_g) > NO_BATH_SHARE * bath.mass_g:
            continue
        if change_g > 0.0:
            bath = after_top_up(bath, change_g, 0.0, amounts.salt.anhydrous_g_mol)
        else:
            bath = after_ladle_out(bath, -change_g)
    for piece in gone:
        bath = after_piece(
            bath,
            coat_volume_ml=coat_volume_mm3(piece.coat_mm, body) * 1e-3,
            capacity_mol_m3=coat.capacity_mol_m3,
            drag_g=(DRAG_G if drag_g is None else max(0.0, drag_g)) if piece.out else 0.0,
            set_fraction=min(1.0, piece.set_fraction),
        )
    return bath
