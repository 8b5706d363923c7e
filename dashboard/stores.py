"""What a page keeps in the browser, as records: one way in and one way out.

Pure. A page's ``dcc.Store`` holds JSON; each page declares the record that it stands for. What
comes back from a browser may be old or made up, so it is checked against the record.
"""

from dataclasses import dataclass
from functools import cache
from typing import Any, Literal, TypeVar

from pydantic import TypeAdapter, ValidationError

from dashboard.measures import Measures
from dashboard.palette import Theme

Record = TypeVar("Record")


def encode(record: object) -> Any:
    """Return the JSON values of a record."""
    return _adapter(type(record)).dump_python(record, mode="json")


def decode(kind: type[Record], data: object) -> Record | None:
    """Return the record of a kind that JSON values stand for, or None where they are none."""
    if data is None:
        return None
    try:
        found: Record = _adapter(kind).validate_python(data)
    except ValidationError:
        return None
    return found


@cache
def _adapter(kind: Any) -> TypeAdapter[Any]:
    return TypeAdapter(kind)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """What a person chose to see, kept in the browser for all pages."""

    theme: Theme = "dark"
    temp: Literal["C", "F"] = "C"
    mass: Literal["g", "oz"] = "g"

    @classmethod
    def of(cls, data: object) -> "Choices":
        """Return the choices of the browser; what is unknown is dark, degC and g."""
        given = data if isinstance(data, dict) else {}
        return cls(
            theme="light" if given.get("theme") == "light" else "dark",
            temp="F" if given.get("temp") == "F" else "C",
            mass="oz" if given.get("mass") == "oz" else "g",
        )

    @property
    def measures(self) -> Measures:
        """How numbers are written."""
        return Measures(temp=self.temp, mass=self.mass)
