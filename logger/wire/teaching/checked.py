"""Do the lines end with check digits, and which check are they?

Pure. A check that fits every line is compared from then on. Hex digits of a check that nobody knows
are passed over whatever they are; the person is told so.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from logger.wire.checks import CHECKS

LEAST = 3
"""Different lines before their ends are taken for check digits."""
MOST = 0.8
"""Share of the lines that must have them."""
_HEX = re.compile(rb"(?<=[^0-9A-Za-z.+-])(?:[0-9A-F]{4}|[0-9A-F]{2}|[0-9a-f]{4}|[0-9a-f]{2})")
_END = re.compile(rb"[0-9A-Za-z]+\Z")


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """Lines without their check digits."""

    bodies: tuple[bytes, ...]
    check: str = "none"
    """Check of the frame that fits them."""
    unknown: int = 0
    """Digits at their end that look like those of another check."""

    @property
    def behind(self) -> str:
        """Pattern of those."""
        return rf"[0-9A-Fa-f]{{{self.unknown}}}" if self.unknown else ""

    @property
    def says(self) -> str:
        """What a person should know of it; empty where the lines have no check digits."""
        if self.unknown:
            return (
                f"The last {self.unknown} characters look like check digits of an unknown kind: "
                "they are not compared, so a garbled line may give a wrong value."
            )
        if self.check != "none":
            return "The check digits at the end are compared: a garbled line gives no value."
        return ""


def checked_of(lines: Sequence[bytes]) -> Checked:
    """Take the check digits off lines.

    Parameters
    ----------
    lines : sequence of bytes
        As they came, without their ends; some may be whole or broken lines of another make.
    """
    enough = max(LEAST, MOST * len(set(lines)))
    for name, check in CHECKS.items():
        if not check.digits:
            continue
        fits = [check.taken_off(line) for line in lines]
        if len({body for body in fits if body}) >= enough:
            pairs = zip(fits, lines, strict=True)
            return Checked(bodies=tuple(line if b is None else b for b, line in pairs), check=name)
    ends = [_hex_at_end(line) for line in lines]
    size, count = Counter(len(end) for end in ends).most_common(1)[0] if ends else (0, 0)
    found = {end for end in ends if len(end) == size}
    if not size or count < enough or len(found) < LEAST or not _mixed(found):
        return Checked(bodies=tuple(lines))
    with_ends = zip(lines, ends, strict=True)
    bodies = tuple(line[:-size] if len(end) == size else line for line, end in with_ends)
    return Checked(bodies=bodies, unknown=size)


def _hex_at_end(line: bytes) -> bytes:
    """Return two or four hex digits that stand by themselves at the end of a line."""
    match = _END.search(line)
    return match[0] if match is not None and _HEX.fullmatch(line, match.start()) else b""


def _mixed(ends: set[bytes]) -> bool:
    """Whether one place of the ends holds a digit in some and a letter in others."""
    return any(len({chr(c).isdigit() for c in place}) > 1 for place in zip(*ends, strict=True))
