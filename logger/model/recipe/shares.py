"""Percents of a whole to masses: of the batch, of a phase, of a base, of a sub-recipe.

Pure arithmetic. Wholes hang on each other (2 % of a phase of which another part is 18 % of the
batch), so they are worked out together: each whole is the sum of what counts in it, which is a set
of linear equations. What they do not decide, or contradict, is refused.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from logger.model.written import AtKeyError

_SLACK = 0.005
"""Share by which a written batch may be off the sum of its parts [1]: rounding of a cook."""
_ROUNDED_PERCENT = 0.05
"""Half of the last digit of a percent with one decimal [%]: each part may be off by that."""
_TINY = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One ingredient as it goes into the sums.

    Attributes
    ----------
    key : str
        Where it is written, for messages.
    mass_g : float or None
        Where the sheet says so [g]; None for a share.
    share : float
        Of the whole `of` [1].
    of : str
        Name of a whole; empty for a mass.
    counts_in : frozenset of str
        Wholes that it is a part of.
    """

    key: str
    name: str
    mass_g: float | None
    share: float = 0.0
    of: str = ""
    counts_in: frozenset[str]


def masses_g(
    lines: Sequence[Line], given_g: Mapping[str, float], labels: Mapping[str, str]
) -> list[float]:
    """Return the mass of each line [g].

    Parameters
    ----------
    lines : sequence of Line
        What is weighed in.
    given_g : mapping
        Wholes whose mass is written [g]; where the lines decide it too, they count.
    labels : mapping
        What a person calls each whole.

    Raises
    ------
    AtKeyError
        If percents do not sum to 100, or nothing or two things decide a mass.
    """
    wholes = sorted({line.of for line in lines if line.of} | set(given_g))
    shares = [line.share for line in lines]
    for whole in wholes:
        _fill(whole, lines, shares, labels[whole])
    rows = [_row(whole, wholes, lines, shares) for whole in wholes]
    found = _solved(rows)
    if any(value is None for value in found):
        at = {whole: place for place, whole in enumerate(wholes)}
        known = [
            [*(1.0 if place == at[whole] else 0.0 for place in range(len(wholes))), mass_g]
            for whole, mass_g in given_g.items()
        ]
        found = _solved([*rows, *known])
    total_g = dict(zip(wholes, found, strict=True))
    masses = []
    for line, share in zip(lines, shares, strict=True):
        if line.mass_g is not None:
            masses.append(line.mass_g)
            continue
        whole_g = total_g[line.of]
        if whole_g is None:
            found_text = f"nothing says how much {labels[line.of]} is"
            raise AtKeyError(line.key, found_text, _decides(line.of))
        if not whole_g > 0.0:
            raise AtKeyError(line.key, "the percents leave nothing for the rest", "correct them")
        masses.append(float(f"{share * whole_g:.10g}"))
    _as_given(lines, masses, given_g, labels)
    return masses


def share_wrongs(
    wholes: Sequence[str], lines: Sequence[Line], labels: Mapping[str, str]
) -> list[AtKeyError]:
    """Return which wholes have percents that can't be: each is looked at without the others.

    Parameters
    ----------
    wholes : sequence of str
        Those of which all lines are known.
    lines : sequence of Line
        What is weighed in.
    labels : mapping
        What a person calls each whole.
    """
    found, shares = list[AtKeyError](), [line.share for line in lines]
    for whole in wholes:
        try:
            _fill(whole, lines, shares, labels[whole])
        except AtKeyError as cause:
            found.append(cause)
    return found


def _decides(whole: str) -> str:
    if whole == "batch":
        return 'write batch = "1 kg" in [sheet], or one ingredient as a mass'
    return "write one of its ingredients as a mass"


def _fill(whole: str, lines: Sequence[Line], shares: list[float], label: str) -> None:
    """See that the percents of a whole can be; bring those that are all of it to exactly 100."""
    inside = [place for place, line in enumerate(lines) if whole in line.counts_in]
    users = [line for line in lines if line.of == whole]
    if not inside:
        if users:
            wanted = "write base = true at what is 100 %, such as the flour"
            raise AtKeyError(users[0].key, f"nothing is {label}", wanted)
        return
    own = [place for place in inside if lines[place].of == whole]
    percent = 100.0 * sum(shares[place] for place in own)
    last = lines[own[-1]].key if own else ""
    if len(own) == len(inside):
        if abs(percent - 100.0) > _ROUNDED_PERCENT * len(own) + _TINY:
            off = 100.0 - percent
            wanted = f"{'add' if off > 0 else 'take away'} {abs(off):.4g} %"
            raise AtKeyError(last, f"the percents of {label} sum to {percent:.5g} %", wanted)
        for place in own:
            shares[place] *= 100.0 / percent
    elif percent >= 100.0 - _TINY:
        others = ", ".join(lines[place].name for place in inside if place not in own)
        found = f"the percents of {label} sum to {percent:.5g} %"
        raise AtKeyError(last, found, f"leave some of it for {others}")


def _row(
    whole: str, wholes: Sequence[str], lines: Sequence[Line], shares: Sequence[float]
) -> list[float]:
    """Return the equation of a whole: itself less the shares in it is the masses in it."""
    row = [0.0] * (len(wholes) + 1)
    row[wholes.index(whole)] = 1.0
    for line, share in zip(lines, shares, strict=True):
        if whole not in line.counts_in:
            continue
        if line.mass_g is not None:
            row[-1] += line.mass_g
        else:
            row[wholes.index(line.of)] -= share
    return row


def _solved(rows: Sequence[Sequence[float]]) -> list[float | None]:
    """Return the unknowns of linear equations; None for one that they do not decide."""
    left = [list(row) for row in rows]
    count = len(left[0]) - 1 if left else 0
    pivots: dict[int, list[float]] = {}
    for column in range(count):
        pivot = max(left, key=lambda row: abs(row[column]), default=None)
        if pivot is None or abs(pivot[column]) <= _TINY:
            continue
        left.remove(pivot)
        pivot = [value / pivot[column] for value in pivot]
        for row in [*left, *pivots.values()]:
            factor = row[column]
            row[:] = [a - factor * b for a, b in zip(row, pivot, strict=True)]
        pivots[column] = pivot
    free = [column for column in range(count) if column not in pivots]
    return [
        pivots[column][-1]
        if column in pivots and all(abs(pivots[column][other]) <= _TINY for other in free)
        else None
        for column in range(count)
    ]


def _as_given(
    lines: Sequence[Line],
    masses: Sequence[float],
    given_g: Mapping[str, float],
    labels: Mapping[str, str],
) -> None:
    for whole, mass_g in given_g.items():
        inside_g = sum(
            one for line, one in zip(lines, masses, strict=True) if whole in line.counts_in
        )
        if abs(inside_g - mass_g) > _SLACK * mass_g:
            found = f"{mass_g:.6g} g, but {labels[whole]} comes to {inside_g:.6g} g"
            raise AtKeyError(f"sheet.{whole}", found, "correct it, or an amount")
