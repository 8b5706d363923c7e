"""What a plan is made of: predictions, troubles, and what could not be told.

Plain values; filled by the other plan modules, printed by the command line and the screen.
"""

from dataclasses import asdict, dataclass
from typing import Any, Literal

COMPUTED = "computed from the sheet"

Weight = Literal["will not work", "mind", "note"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Prediction:
    """One number that follows from the sheet before anything is weighed.

    Attributes
    ----------
    name : str
        Unit in the name: ``"mixing_temp_c"``.
    label : str
        What a person calls it.
    value : float or None
        The likely value, in `unit`; None where only a range can be told.
    low, high : float or None
        Range, in `unit`.
    says : str
        A sentence with the numbers.
    source : str
        Where the law and its constants come from.
    stage : str or None
        Stage id it belongs to.
    """

    name: str
    label: str
    value: float | None
    unit: str
    says: str
    source: str
    low: float | None = None
    high: float | None = None
    stage: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """Something that will not work, or that a cook should mind.

    Attributes
    ----------
    weight : str
        ``will not work``: the sheet contradicts itself or physics; ``mind``: it may go wrong;
        ``note``: good to know.
    says : str
        What is the matter, with the numbers.
    do : str
        What to change.
    source : str
        Why this is believed.
    """

    weight: Weight
    says: str
    do: str
    source: str
    stage: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """All that is known of a batch before it begins.

    Attributes
    ----------
    untold : tuple of str
        What could not be predicted, and what is missing for it.
    cautions : tuple of str
        Where work can hurt someone.
    """

    sheet: str
    revision: int
    predictions: tuple[Prediction, ...]
    troubles: tuple[Trouble, ...]
    untold: tuple[str, ...]
    cautions: tuple[str, ...]

    def value(self, name: str) -> float | None:
        """Return the likely value of a prediction, or None where there is none."""
        return next((p.value for p in self.predictions if p.name == name), None)

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON values."""
        return asdict(self)


class Notebook:
    """Collects what the parts of a plan find."""

    def __init__(self) -> None:
        self.predictions: list[Prediction] = []
        self.troubles: list[Trouble] = []
        self.untold: list[str] = []
        self.cautions: list[str] = []

    def predict(
        self,
        name: str,
        label: str,
        value: float | None,
        unit: str,
        says: str,
        source: str = COMPUTED,
        *,
        low: float | None = None,
        high: float | None = None,
        stage: str | None = None,
    ) -> None:
        """Add a prediction.

        Parameters
        ----------
        name : str
            Key of the prediction.
        label : str
            What it is called on screens.
        value : float or None
            Number in the unit `unit`.
        unit : str
            Of the numbers.
        says : str
            The prediction as a sentence.
        source : str
            Where the number comes from.
        low, high : float, optional
            Ends of its range, in the unit `unit`.
        stage : str, optional
            Id of the stage it is about.
        """
        self.predictions.append(
            Prediction(
                name=name,
                label=label,
                value=value,
                unit=unit,
                says=says,
                source=source,
                low=low,
                high=high,
                stage=stage,
            )
        )

    def trouble(
        self, weight: Weight, says: str, do: str, source: str, *, stage: str | None = None
    ) -> None:
        """Add a trouble.

        Parameters
        ----------
        weight : str
            How much it matters.
        says : str
            What is wrong.
        do : str
            What to do about it.
        source : str
            Where that comes from.
        stage : str, optional
            Id of the stage it is about.
        """
        self.troubles.append(Trouble(weight=weight, says=says, do=do, source=source, stage=stage))
