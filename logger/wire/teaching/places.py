"""Which number of the lines is the one that a display shows?

Pure. What somebody typed is looked for in every line, in every way in which a number may be
written: with a point or a comma, with its sign apart, without its point, last digit first. Where
two places fit, none is taken.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from logger.model.errors import InputError
from logger.wire.teaching.marks import Marks, Shown
from logger.wire.teaching.tokens import (
    WRITINGS,
    Token,
    Writing,
    key_of,
    numbers_at,
    tokens_of,
    writing_of,
)

SLACK = 1e-9
LEAST_DIGITS = 3
"""Digits that a number needs to be known again without its point, or last digit first."""
THOUSANDS = 3
MOST_PLACES = 4
PARTED = {("lb", "oz"), ("lbs", "oz"), ("kg", "g"), ("g", "mg")}
"""A whole number of the one unit and a number of the other make up one weight."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a value stands in a line, and how its number is written."""

    writing: Writing
    number: int
    """Which of the numbers of the line it is, from 0."""
    line: int
    """A line that it was found in."""
    scale: float = 1.0
    reversed: bool = False
    sign: int | None = None
    """Token that holds the sign apart from the number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hit:
    place: Place
    span: tuple[int, int]
    """Of its digits, in the line."""
    exact: bool


def place_of(lines: Sequence[str], shown: Shown, marks: Marks) -> Place:
    """Return the place of the number that a display shows.

    Parameters
    ----------
    lines : sequence of str
        As they came, without their ends.
    shown : Shown
        What the display shows.
    marks : Marks
        Where somebody pointed at the line and the number, only that is looked at.

    Raises
    ------
    InputError
        If no number fits, or more than one does.
    """
    for way in (_as_printed, _without_point, _backwards):
        hits = _distinct([hit for one in _tries(lines, marks) for hit in way(one, shown)])
        if hits:
            break
    lost = [hit for hit in hits if _has_lost_its_minus(lines, hit.place)]
    hits = [hit for hit in hits if hit not in lost]
    if {hit.place.number for hit in lost} - {hit.place.number for hit in hits}:
        hits = []  # a number without its minus fits too
    if not hits:
        raise InputError(
            "display",
            f"no number in the lines is {shown.value:g}",
            "type it with all digits, as it is in a line",
        )
    columns = {(h.place.writing, h.place.number, h.place.scale, h.place.sign) for h in hits}
    if len(columns) > 1:
        raise InputError(
            "display",
            f"more than one number in the lines may be {shown.value:g}",
            "wait until they differ, or say which number in the line it is",
        )
    place = _most_usual(lines, hits)
    _refuse_part(lines, place)
    return place


@dataclass(frozen=True, slots=True, kw_only=True)
class _Try:
    """One number of one line, in one writing."""

    place: Place
    tokens: tuple[Token, ...]
    token: Token
    span: tuple[int, int]


def _tries(lines: Sequence[str], marks: Marks) -> Iterator[_Try]:
    writings = WRITINGS if marks.line is None else (writing_of(lines),)
    for at, line in enumerate(lines):
        if marks.line is not None and at != marks.line:
            continue
        for writing in writings:
            tokens = tokens_of(line, writing)
            for number, index in enumerate(numbers_at(tokens)):
                if marks.number is not None and number != marks.number - 1:
                    continue
                end = sum(len(token.text) for token in tokens[: index + 1])
                start = end - len(tokens[index].text.strip(" +-"))
                place = Place(writing=writing, number=number, line=at)
                yield _Try(place=place, tokens=tokens, token=tokens[index], span=(start, end))


def _as_printed(one: _Try, shown: Shown) -> Iterator[_Hit]:
    value = one.token.number
    if value is None or (shown.places and not one.token.places):
        return  # a whole number is not what a display shows with decimals
    half = 0.5 * 10.0**-shown.places + SLACK
    if not shown.places and one.token.places:
        half = 1.0 - SLACK  # a typed whole number may lack its decimals
    apart = _sign_apart(one)
    if abs(value - shown.value) <= half and not (apart is not None and shown.value < 0):
        yield _hit(one, shown, sign=None)  # a plus may be a state; only a minus is sure
    elif apart is not None and one.tokens[apart].text == "-" and abs(value + shown.value) <= half:
        yield _hit(one, shown, sign=apart)


def _hit(one: _Try, shown: Shown, *, sign: int | None) -> _Hit:
    place = Place(
        writing=one.place.writing, number=one.place.number, line=one.place.line, sign=sign
    )
    exact = abs(abs(one.token.number or 0.0) - abs(shown.value)) <= SLACK
    return _Hit(place=place, span=one.span, exact=exact)


def _sign_apart(one: _Try) -> int | None:
    """Return the only sign of the line that stands apart from numbers, if this number has none."""
    if one.token.text.strip()[:1] in ("+", "-"):
        return None
    found = [i for i, t in enumerate(one.tokens) if t.kind == "mark" and set(t.text) <= {"+", "-"}]
    return found[0] if len(found) == 1 and len(one.tokens[found[0]].text) == 1 else None


def _without_point(one: _Try, shown: Shown) -> Iterator[_Hit]:
    value = one.token.number
    if value is None or one.token.places or not shown.places or shown.digits < LEAST_DIGITS:
        return
    for places in range(shown.places, MOST_PLACES + 1):
        if abs(value * 10.0**-places - shown.value) <= SLACK:
            place = Place(
                writing=one.place.writing,
                number=one.place.number,
                line=one.place.line,
                scale=float(f"1e-{places}"),
            )
            yield _Hit(place=place, span=one.span, exact=True)


def _backwards(one: _Try, shown: Shown) -> Iterator[_Hit]:
    text = one.token.text
    if one.token.number is None or text != text.strip(" +-") or shown.digits < LEAST_DIGITS:
        return
    value = Token("number", text[::-1]).number
    if value is not None and value == shown.value and one.token.places:
        place = Place(
            writing=one.place.writing,
            number=one.place.number,
            line=one.place.line,
            reversed=True,
        )
        yield _Hit(place=place, span=one.span, exact=True)


def _distinct(hits: list[_Hit]) -> list[_Hit]:
    """Return hits without those that another one explains: the same digits, or rounded ones."""
    kept: list[_Hit] = []
    exact = [hit for hit in hits if hit.exact]
    for hit in hits:
        if any(k.place.line == hit.place.line and k.span == hit.span for k in kept):
            continue  # the same digits in another writing
        beside = not any(
            e.place.line == hit.place.line and e.span[0] < hit.span[1] and hit.span[0] < e.span[1]
            for e in exact
        )
        if exact and not hit.exact and beside:
            continue
        kept.append(hit)
    return kept


def _most_usual(lines: Sequence[str], hits: Sequence[_Hit]) -> Place:
    """Return the place in the kind of line that has the number most often, of equal ones the last.

    Raises
    ------
    InputError
        If two kinds differ in a plus or minus: one of them may be the number's sign.
    """
    keys = [key_of(tokens_of(lines[hit.place.line], hit.place.writing)) for hit in hits]
    signs = {tuple(part for part in key if set(part) <= {"+", "-"}) for key in keys}
    if len(signs) > 1:
        raise InputError(
            "display",
            "the number is in lines with plus and in lines with minus",
            "wait until another number is shown",
        )
    usual = max(range(len(hits)), key=lambda at: (keys.count(keys[at]), at))
    return hits[usual].place


def _has_lost_its_minus(lines: Sequence[str], place: Place) -> bool:
    """Whether a dash of the line may be a sign, as lines that are else alike have fewer of them."""
    if place.sign is not None:
        return False
    keys = {key_of(tokens_of(line, place.writing)) for line in lines}
    key = key_of(tokens_of(lines[place.line], place.writing))
    alike = {_dashes(other) for other in keys if _unsigned(other) == _unsigned(key)}
    mine = _dashes(key)
    return any(other != mine and other.count("-") <= mine.count("-") for other in alike)


def _unsigned(key: Sequence[str]) -> tuple[str, ...]:
    return tuple(part for part in key if part != " " and not set(part) <= {"+", "-"})


def _dashes(key: Sequence[str]) -> str:
    """Return the signs of a line with the places where they stand."""
    return "".join(part if set(part) <= {"+", "-"} else "." for part in key if part != " ")


def _refuse_part(lines: Sequence[str], place: Place) -> None:
    """Refuse a number that may be a part of a longer one.

    Raises
    ------
    InputError
        If a point stands beside it, every line has digits and a comma in front of three digits, or
        a comma may part two numbers or be in one.
    """
    model = tokens_of(lines[place.line], place.writing)
    index = numbers_at(model)[place.number]
    texts = ["", *(token.text for token in model), "", ""]
    before, after, behind = texts[index], texts[index + 2], texts[index + 3]
    alike = [t for t in (tokens_of(line, place.writing) for line in lines) if _alike(t, model)]
    parted = before == "." or (after == "." and behind[:1].isdigit())
    parted |= after == "," and behind[:1].isdigit() and all(_of_thousands(t[index]) for t in alike)
    if any(_two_units(tokens, at) for tokens in alike for at in (index, index - 3, index - 4)):
        raise InputError(
            "display",
            "two units make up one weight, such as pounds and ounces",
            "set the instrument to one unit",
        )
    if parted or all(_grouped(tokens, index) for tokens in alike):
        raise InputError(
            "display",
            "the number may be a part of a longer one",
            "write the line format by hand; see hardware_notes.md",
        )
    if place.writing.comma and any(map(_comma_parts, alike)):
        raise InputError(
            "lines",
            "commas separate the numbers and are also inside them",
            "set the instrument to another separator",
        )


def _alike(one: Sequence[Token], other: Sequence[Token]) -> bool:
    return key_of(one) == key_of(other)


def _of_thousands(token: Token) -> bool:
    """Whether the point of a number may stand between thousands, as in 1.294,00."""
    whole, point, rest = token.text.strip(" +-").partition(".")
    return bool(point) and len(rest) == THOUSANDS and len(whole) <= THOUSANDS


def _two_units(tokens: Sequence[Token], index: int) -> bool:
    """Whether a whole number with a unit stands before another number of a smaller unit."""
    if not 0 <= index < len(tokens) or tokens[index].kind != "number" or tokens[index].places:
        return False
    after = [token for token in tokens[index + 1 : index + 6] if token.kind != "space"]
    kinds = [token.kind for token in after[:3]]
    return kinds == ["unit", "number", "unit"] and (after[0].text, after[2].text) in PARTED


def _grouped(tokens: Sequence[Token], index: int) -> bool:
    """Whether a number looks like the last three digits of one with a mark for the thousands."""
    digits = tokens[index].text.split(".")[0]
    return (
        index > 1
        and tokens[index - 1].text in (",", "'")
        and tokens[index - 2].kind == "number"
        and len(digits) == THOUSANDS
        and digits.isdigit()
    )


def _comma_parts(tokens: Sequence[Token]) -> bool:
    return any(
        token.text == "," and before.kind == after.kind == "number"
        for before, token, after in zip(tokens, tokens[1:], tokens[2:], strict=False)
    )
