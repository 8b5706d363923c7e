"""What a screen may know of the virtual bench beside it: how it stands, and a way to begin it.

Plain; the command line starts the bench (``logger.cli.tryout``), the instruments page draws this.
"""

from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """How the virtual bench stands: address of its screen, whether it starts, why it failed."""

    url: str = ""
    busy: bool = False
    failed: str = ""


class TryOut(Protocol):
    """Starts the virtual bench beside a screen."""

    def __call__(self, *, begin: bool) -> Tried:
        """Say how it stands, after beginning it where asked and not done yet."""
