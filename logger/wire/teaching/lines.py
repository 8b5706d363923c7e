"""Which lines are readings, and which say that there is no value.

Pure. A line is a reading only if it differs from the one that was pointed at in its numbers, and in
words that somebody explained; every other line is passed over and gives no value.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from logger.model.errors import InputError
from logger.wire.series.turns import comes_again
from logger.wire.teaching.marks import Marks, shown_of
from logger.wire.teaching.pattern import unit_place
from logger.wire.teaching.places import Place, place_of
from logger.wire.teaching.tokens import Token, Writing, key_of, numbers_at, tokens_of

HIGHEST_CODE, CODE_DIGITS = 9, 4
"""Greater whole numbers are humidities and the like, but where they jump: a humidity goes on by its
last digit, a status of bits does not."""
ENOUGH, MANY = 3, 6
"""Lines in which a number that is mostly the same is a code, though another came only once."""
_WORDS = re.compile(r"[^0-9A-Za-z.]+")
_HEX = re.compile(r"(?=[0-9A-F]*[A-F])(?=[A-F]*\d)[0-9A-F]{2,8}")
Class = Literal["reading", "missing", "other"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sorted:
    """Lines with what they are."""

    writing: Writing
    tokens: tuple[tuple[Token, ...], ...]
    classes: tuple[Class, ...]
    places: tuple[Place, ...]
    steady: tuple[str, ...]
    """Words that stand where another means that the value moves."""
    codes: tuple[str, ...] = ()
    """Numbers beside the values that had to be as in the line that was pointed at."""

    @property
    def changing(self) -> bool:
        """Whether enough lines are like the one that was pointed at, but for words and codes."""
        model = [token.kind for token in self.tokens[self.places[0].line]]
        alike = [
            kind
            for tokens, kind in zip(self.tokens, self.classes, strict=True)
            if [token.kind for token in tokens] == model and kind != "missing"
        ]
        return len(alike) >= ENOUGH and "other" in alike


def sorted_lines(lines: Sequence[str], marks: Marks) -> Sorted:
    """Find the values and sort the lines.

    Parameters
    ----------
    lines : sequence of str
        As they came, without their ends.
    marks : Marks
        What somebody said of them.

    Raises
    ------
    InputError
        If no number fits what was said, or more than one does.
    """
    places = [place_of(lines, shown_of(text), marks) for text in marks.shown]
    if not places:
        raise InputError("display", "nothing was given", "say what the display shows")
    if len({place.writing for place in places}) > 1:
        raise InputError("display", "the numbers are written in two ways", "give only one of them")
    if len({place.number for place in places}) < len(places):
        raise InputError("display", "one number was named twice", "name each number once")
    writing = _with_signs(lines, places[0])
    tokens = tuple(tokens_of(line, writing) for line in lines)
    model = tokens[places[0].line]
    _refuse_unknown(tokens, marks)
    steady = _steady(tokens, model, marks.moving)
    drop = frozenset((*marks.moving, *steady))
    signs = frozenset(place.sign for place in places if place.sign is not None)
    wanted = bare_key(model, drop, signs)

    alike = [found for found in tokens if bare_key(found, drop, signs) == wanted]
    codes = _codes(model, alike, {place.number for place in places})
    values = [numbers_at(model)[place.number] for place in places]
    units = _other_units(model, values)
    hexes = _hex_codes(lines, lines[places[0].line])

    def class_of(found: tuple[Token, ...], line: str) -> Class:
        said = [token for token in found if _says_missing(token, marks)]
        alike = bare_key(found, drop, signs) == wanted
        if said and not (alike and all(token.kind == "number" for token in said)):
            return "missing"  # where a number stands else, its place says which one is missing
        same = alike and all(_number_text(found, at) == code for at, code in codes.items())
        same = same and _other_units(found, values) == units
        words = _WORDS.split(line)
        same = same and all(words[at : at + 1] == [code] for at, code in hexes.items())
        return "reading" if same else "other"

    classes = tuple(map(class_of, tokens, lines))
    if "reading" not in classes:
        raise InputError("lines", "every line has a word for no value", "leave that word out")
    return Sorted(
        writing=writing,
        tokens=tokens,
        classes=classes,
        places=tuple(places),
        steady=steady,
        codes=(*codes.values(), *hexes.values()),
    )


def _other_units(tokens: Sequence[Token], values: Sequence[int]) -> list[str]:
    """Return the units that are none of a value; of a code such as 1F the last digit may seem one.

    A unit may be switched, and then that of the value is another one.
    """
    own = {unit_place(tokens, at) for at in values if at < len(tokens)}
    return [t.text for at, t in enumerate(tokens) if t.kind == "unit" and at not in own]


def _hex_codes(lines: Sequence[str], model: str) -> dict[int, str]:
    """Return the numbers of a line, by the place of their word, that are hex digits in others."""
    own = _WORDS.split(model)
    rows = [words for words in map(_WORDS.split, lines) if len(words) == len(own)]
    return {
        at: word
        for at, word in enumerate(own)
        if re.fullmatch("[0-9A-F]{2,8}", word)
        and any(len(row[at]) == len(word) and _HEX.fullmatch(row[at]) for row in rows)
    }


def _codes(
    model: Sequence[Token], alike: Sequence[Sequence[Token]], values: set[int]
) -> dict[int, str]:
    """Return the whole numbers beside the values that come again, as in the model line.

    They number channels, faults, states or units: with another one the value means something else,
    and nobody said what.
    """
    found = {}
    for at in range(len(numbers_at(model))):
        texts = [_number_text(line, at) for line in alike]
        whole = all(text.isdecimal() and len(text) <= CODE_DIGITS for text in texts)
        numbers = {int(text) for text in texts} if whole else {0}
        jumps = max(numbers) - min(numbers) + 1 > 2 * len(numbers)
        short = whole and (max(numbers) <= HIGHEST_CODE or jumps)
        most = max(map(texts.count, texts))
        seldom = len(texts) >= MANY and len(set(texts)) > 1 and most * 2 >= len(texts)
        if at not in values and short and (seldom or comes_again(texts)):
            found[at] = _number_text(model, at)
    return found


def _number_text(tokens: Sequence[Token], number: int) -> str:
    return tokens[numbers_at(tokens)[number]].text.strip()


def _says_missing(token: Token, marks: Marks) -> bool:
    """Whether somebody said of a piece of a line that it means no value."""
    number = token.number if token.kind == "number" else None
    return token.text.strip() in marks.missing_words or number in marks.missing_numbers


def _refuse_unknown(lines: Sequence[tuple[Token, ...]], marks: Marks) -> None:
    """Refuse words that no line has.

    Raises
    ------
    InputError
        If one stands in no line by itself.
    """
    there = {token.text.strip() for line in lines for token in line}
    numbers = {t.number for line in lines for t in line if t.kind == "number"}
    lost = (marks.missing_words | frozenset(marks.moving)) - there
    said = [*lost, *(f"{n:g}" for n in marks.missing_numbers - numbers)]
    if said:
        word = min(said)[:40]
        raise InputError("lines", f"no line has {word!r} by itself", "leave that word out")


def refuse_zeros(found: Sorted, marks: Marks) -> None:
    """Refuse a lesson in which a number is shown as 0, or is 0 throughout: any writing fits that.

    Raises
    ------
    InputError
        If it does.
    """
    readings = [t for t, kind in zip(found.tokens, found.classes, strict=True) if kind == "reading"]
    shown = [shown_of(text).value for text in marks.shown]
    for place, value in zip(found.places, shown, strict=True):
        numbers = [tokens[numbers_at(tokens)[place.number]].number for tokens in readings]
        if not value or not any(numbers):
            raise InputError(
                "lines",
                "0 doesn't tell how other numbers are written",
                "put something on the scale or warm the probe, and give what it shows then",
            )


def _with_signs(lines: Sequence[str], place: Place) -> Writing:
    """Return the writing; a dash that only some lines have behind a letter is a sign."""
    plain, glued = place.writing, place.writing._replace(glued=True)
    model = tokens_of(lines[place.line], plain)
    if tokens_of(lines[place.line], glued) != model:
        return plain
    key = key_of(model)
    alike = [sum(key_of(tokens_of(line, how)) == key for line in lines) for how in (plain, glued)]
    return glued if alike[1] > alike[0] else plain


def bare_key(
    tokens: Sequence[Token], drop: frozenset[str], signs: frozenset[int]
) -> tuple[str, ...]:
    """Return the key of a line without the words that say how the value is.

    Parameters
    ----------
    tokens : sequence of Token
        The line.
    drop : frozenset of str
        Those words.
    signs : frozenset of int
        Places of signs that stand apart from their number.
    """
    found: list[str] = []
    for at, part in enumerate(key_of(tokens)):
        if part in drop and tokens[at].kind in ("word", "mark"):
            continue
        if at in signs and part in ("+", "-"):
            part = "sign"
        if part == " " and found[-1:] in ([], [" "]):
            continue
        found.append(part)
    return tuple(found[:-1] if found[-1:] == [" "] else found)


def _steady(
    lines: Sequence[tuple[Token, ...]], model: tuple[Token, ...], moving: Sequence[str]
) -> tuple[str, ...]:
    """Return the words that stand where another one means moving, where only one does."""
    found: dict[str, None] = {}
    model_key = key_of(model)
    keys = list(dict.fromkeys(map(key_of, lines)))
    for key in keys:
        for at in (at for at, part in enumerate(key) if part in moving):
            alike = [k for k in keys if len(k) == len(key) and _same_but(k, key, at)]
            found |= dict.fromkeys(k[at] for k in alike if k[at] not in (*moving, " "))
            if model_key in alike and model_key != key:
                return (model_key[at],)
    return tuple(found) if len(found) == 1 else ()


def _same_but(one: tuple[str, ...], other: tuple[str, ...], at: int) -> bool:
    return one[:at] + one[at + 1 :] == other[:at] + other[at + 1 :]
