"""Numbers beside each other, as on a screen, in the units of the program.

Pure text. ``dashboard.measures`` writes the same in the units that a person chose.
"""

from logger.words.bands import band_on_screen
from logger.words.digits import DASH
from logger.words.durations import clock
from logger.words.values import number_text, spread_text, unit_text, with_unit


class AsRecorded:
    """Degrees Celsius, grams, and clocks for times."""

    __slots__ = ()

    def unit(self, unit: str) -> str:
        """Return a unit as it is shown: ``"°C"`` for ``"degC"``."""
        return unit_text(unit)

    def text(self, value: float | None, unit: str, u_expanded: float | None = None) -> str:
        """Return a number without its unit: ``"46.1"``, ``"8:20"``, or a dash for none.

        Parameters
        ----------
        value : float or None
            In `unit`.
        unit : str
            Of the program.
        u_expanded : float, optional
            Expanded uncertainty [same unit]; the number goes to its place.
        """
        return clock(value) if unit == "s" else number_text(value, unit, u_expanded)

    def plain(self, value: float | None, unit: str, u_expanded: float | None = None) -> str:
        """Return a number with its unit: ``"27.2 °C"``, ``"8:20"``.

        Parameters
        ----------
        value : float or None
            In `unit`.
        unit : str
            Of the program.
        u_expanded : float, optional
            Expanded uncertainty [same unit]; decides the place and is not written.
        """
        number = self.text(value, unit, u_expanded)
        return number if number == DASH or unit == "s" else with_unit(number, self.unit(unit))

    def spread(self, u_expanded: float | None, unit: str) -> str:
        """Return ``"± 0.6"`` for an uncertainty [unit]; empty where it is not known."""
        return spread_text(u_expanded, unit, on_clock=True)

    def band(self, low: float | None, high: float | None, unit: str) -> str:
        """Return a target: ``"44 to 58 °C"``, ``"at least 6:00"``; empty for none.

        Parameters
        ----------
        low, high : float or None
            Ends [`unit`]; None for one that is open.
        unit : str
            Of the program.
        """
        return band_on_screen(low, high, unit)
