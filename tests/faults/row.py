"""One line of the table."""

from dataclasses import dataclass, field


@dataclass(slots=True, kw_only=True)
class Row:
    """A fault, what the user saw, what the file holds, and what is wrong with that."""

    fault: str
    seen: str = ""
    held: str = ""
    wrong: list[str] = field(default_factory=list)
    not_made: str = ""
    """Why it could not be tried on this machine; it then passes nothing."""

    def expect(self, holds: bool, otherwise: str) -> None:
        """Note what is wrong."""
        if not holds:
            self.wrong.append(otherwise)

    @property
    def verdict(self) -> str:
        """ok, WRONG with the reasons, or not made."""
        if self.wrong:
            return "WRONG: " + "; ".join(self.wrong)
        return f"not made: {self.not_made}" if self.not_made else "ok"
