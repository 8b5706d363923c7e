"""A change from one level of a scale to the next, whatever it means.

Pure values.
"""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What happened between two levels.

    Attributes
    ----------
    start_s, end_s : float
        Last time of the level before, first of the level after [s].
    before_g, after_g : float
        Levels next to it [g].
    u_before_g, u_after_g : float
        Their standard uncertainties: noise, stirring, step of the display [g].
    took_s : float
        From a tenth of the change to nine tenths [s].
    jump_g : float
        Most that came, or went, within a second of it [g].
    shape_g : tuple of float
        Half seconds of it [g].
    gap : bool
        Whether the scale was silent all the time.
    away : bool
        Whether the bowl was lifted off and put back.
    going : bool
        Whether it is not at rest yet.
    slope_before_g_s, slope_after_g_s : float
        How fast the mass changed right before and after, where it was not level [g/s].
    """

    start_s: float
    end_s: float
    before_g: float
    after_g: float
    u_before_g: float
    u_after_g: float
    took_s: float
    jump_g: float = 0.0
    shape_g: tuple[float, ...] = ()
    gap: bool = False
    away: bool = False
    going: bool = False
    slope_before_g_s: float = 0.0
    slope_after_g_s: float = 0.0

    @property
    def by_g(self) -> float:
        """Mass that came [g]; below 0 where it went."""
        return self.after_g - self.before_g

    def turned(self) -> Change:
        """Return the same of a vessel that gives: what it loses has come."""
        return replace(
            self,
            before_g=-self.before_g,
            after_g=-self.after_g,
            jump_g=-self.jump_g,
            shape_g=tuple(-g for g in self.shape_g),
            slope_before_g_s=-self.slope_before_g_s,
            slope_after_g_s=-self.slope_after_g_s,
        )
