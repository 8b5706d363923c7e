"""What is left in the bath: bound, taken up, dragged out, diluted.

Pure values; each function takes the bath as it was and returns it as it is. Used by the plan and by
the bath watcher. Concentrations are per mass, so that no temperature is needed.
"""

from dataclasses import dataclass, replace

from logger.model.errors import OutOfRangeError
from logger.words.values import percent_text

FREE_UPTAKE_SHARE = 0.8  # share of the bath's concentration found free in a set coat: assumption
REFRESH_BELOW = 0.8  # of the starting concentration: proposal, no published threshold
LEAST_TOLD = 0.005  # a loss below rounds to 0 % and is not worth a word


@dataclass(frozen=True, slots=True, kw_only=True)
class Bath:
    """A calcium bath and where its calcium went.

    Parameters
    ----------
    mass_g, calcium_mol : float
        Liquid now [g] and calcium in it [mol].
    start_mass_g, start_calcium_mol : float
        The same when it was made up.
    bound_mol, taken_up_mol, dragged_mol, added_mol : float
        Calcium bound by coats, gone free into coats, dragged or ladled out, and added [mol].
    """

    mass_g: float
    calcium_mol: float
    start_mass_g: float
    start_calcium_mol: float
    bound_mol: float = 0.0
    taken_up_mol: float = 0.0
    dragged_mol: float = 0.0
    added_mol: float = 0.0

    @property
    def calcium_mol_kg(self) -> float:
        """Calcium per kg of bath [mol/kg]."""
        return self.calcium_mol / (self.mass_g * 1e-3)

    @property
    def strength(self) -> float:
        """Concentration now over the concentration at the start."""
        return self.calcium_mol_kg / (self.start_calcium_mol / (self.start_mass_g * 1e-3))

    @property
    def calcium_left(self) -> float:
        """Calcium now over the calcium at the start."""
        return self.calcium_mol / self.start_calcium_mol


@dataclass(frozen=True, slots=True, kw_only=True)
class RefreshAdvice:
    """Whether to refresh the bath, and why, in words for the cook."""

    refresh: bool
    strength: float
    reason: str


def fresh_bath(mass_g: float, mass_fraction: float, anhydrous_g_mol: float) -> Bath:
    """Make up a bath.

    Parameters
    ----------
    mass_g : float
        Salt and water [g], above 0.
    mass_fraction : float
        Anhydrous salt [g/g], above 0 up to 1.
    anhydrous_g_mol : float
        Molar mass of the anhydrous salt [g/mol].

    Raises
    ------
    OutOfRangeError
        If the mass or the mass fraction is outside its range.
    """
    if mass_g <= 0:
        raise OutOfRangeError("bath mass [g]", mass_g, "more than 0")
    if not 0 < mass_fraction <= 1:
        raise OutOfRangeError("salt mass fraction", mass_fraction, "more than 0, at most 1")
    calcium = mass_g * mass_fraction / anhydrous_g_mol
    return Bath(
        mass_g=mass_g,
        calcium_mol=calcium,
        start_mass_g=mass_g,
        start_calcium_mol=calcium,
    )


def after_piece(
    bath: Bath,
    *,
    coat_volume_ml: float,
    capacity_mol_m3: float,
    drag_g: float = 0.0,
    set_fraction: float = 1.0,
    free_share: float = FREE_UPTAKE_SHARE,
) -> Bath:
    """Bath after one piece went through.

    Parameters
    ----------
    bath : Bath
        As it was.
    coat_volume_ml : float
        Volume of the coat [mL], 0 or more.
    capacity_mol_m3 : float
        Calcium the coat binds [mol/m3].
    drag_g : float
        Liquid that left on the piece [g].
    set_fraction : float
        Share of the coat that set [1], 0 to 1.
    free_share : float
        Free calcium in the set coat over that in the bath [1], 0 to 1.

    Raises
    ------
    OutOfRangeError
        If more calcium would leave than there is.
    """
    per_ml = bath.calcium_mol / bath.mass_g  # mol per g, and a mL of bath is a gram within 1 %
    bound = coat_volume_ml * 1e-6 * capacity_mol_m3 * set_fraction
    taken_up = coat_volume_ml * free_share * set_fraction * per_ml
    dragged = drag_g * per_ml
    left = bath.calcium_mol - bound - taken_up - dragged
    if left < 0 or drag_g >= bath.mass_g:
        raise OutOfRangeError("calcium left in the bath [mol]", left, "0 or more: check the masses")
    return replace(
        bath,
        mass_g=bath.mass_g - drag_g,
        calcium_mol=left,
        bound_mol=bath.bound_mol + bound,
        taken_up_mol=bath.taken_up_mol + taken_up,
        dragged_mol=bath.dragged_mol + dragged,
    )


def after_top_up(bath: Bath, added_g: float, mass_fraction: float, anhydrous_g_mol: float) -> Bath:
    """Bath after water (mass fraction 0) or fresh solution was poured in.

    Parameters
    ----------
    bath : Bath
        As it was.
    added_g : float
        Poured in [g], 0 or more.
    mass_fraction : float
        Anhydrous salt in it [g/g], 0 for water.
    anhydrous_g_mol : float
        Molar mass of the anhydrous salt [g/mol].

    Raises
    ------
    OutOfRangeError
        If the mass poured in is negative.
    """
    if added_g < 0:
        raise OutOfRangeError("top-up [g]", added_g, "0 or more")
    calcium = added_g * mass_fraction / anhydrous_g_mol
    return replace(
        bath,
        mass_g=bath.mass_g + added_g,
        calcium_mol=bath.calcium_mol + calcium,
        added_mol=bath.added_mol + calcium,
    )


def after_ladle_out(bath: Bath, removed_g: float) -> Bath:
    """Bath after some of it was taken out: less of it, as strong as before.

    Parameters
    ----------
    bath : Bath
        As it was.
    removed_g : float
        Taken out [g], 0 up to less than the bath.

    Raises
    ------
    OutOfRangeError
        If the bath holds no more than that, or the mass is negative.
    """
    if not 0 <= removed_g < bath.mass_g:
        raise OutOfRangeError("ladled out [g]", removed_g, f"0 to {bath.mass_g:g}")
    gone = bath.calcium_mol * removed_g / bath.mass_g
    return replace(
        bath,
        mass_g=bath.mass_g - removed_g,
        calcium_mol=bath.calcium_mol - gone,
        dragged_mol=bath.dragged_mol + gone,
    )


def refresh_advice(bath: Bath, *, below: float = REFRESH_BELOW) -> RefreshAdvice:
    """Say whether the bath wants refreshing and which loss is the largest.

    Parameters
    ----------
    bath : Bath
        As it is now.
    below : float
        Share of the starting concentration under which to refresh [1], 0 to 1.
    """
    start = bath.start_calcium_mol
    losses = {
        "bound by the skins": bath.bound_mol / start,
        "soaked into the skins": bath.taken_up_mol / start,
        "dragged or ladled out": bath.dragged_mol / start,
    }
    dilution = 1 - bath.start_mass_g / bath.mass_g
    if dilution > 0:
        losses["thinned by water"] = dilution
    parts = "".join(
        f"{', ' if place else '; '}{percent_text(share)} {word}"
        for place, (word, share) in enumerate(sorted(losses.items(), key=lambda x: -x[1]))
        if share >= LEAST_TOLD
    )
    refresh = bath.strength < below
    limit = percent_text(below)
    verdict = f"below {limit}: refresh it" if refresh else f"refresh below {limit}"
    return RefreshAdvice(
        refresh=refresh,
        strength=bath.strength,
        reason=f"bath strength {percent_text(bath.strength)} ({verdict}){parts}",
    )
