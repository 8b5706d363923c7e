"""Does a line look like those before it, digits apart?

Bytes that got lost or came twice leave a line that still fits: 845 g for 845.3 g, 45.3 g for
845.3 g, 21.505 C for 21.50 C. An instrument prints a number with as many decimals each time, one
that is filled with zeros as wide, and a column as wide. A line of words says that the value behind
it is another one: a total, a limit. Pure; one object remembers the lines of one instrument. Used by
``textline``; an object may leave out zeros behind the point.
"""

import re
from collections import deque
from typing import NamedTuple

FORMS, KINDS = 512, 64
"""Forms of lines, and kinds of lines, that are remembered."""
STAYS = 3
"""So many odd lines in a row, or within `WITHIN`, are how the instrument prints now."""
WITHIN = 30
SAME = 3
"""From so many lines with as many decimals on, an instrument prints no others."""
LABEL_MAX = 40
"""Longest line that is a label [bytes]."""
ALIKE = bytes(ord("0") if 0x30 <= c <= 0x39 else c for c in range(256))
_POINTED = re.compile(rb"0[.,](0+)")
_NUMBERS = {
    point: re.compile(rb"(0+)(?:%b(0+))?" % re.escape(point.encode())) for point in (".", ",")
}
_FILLED = re.compile(rb"(?<![\d.,])0\d")
_COLUMN = re.compile(rb"  [-+]? *0")
"""A number that is set right with blanks."""
_WORD = re.compile(rb"(?i)(?!#|//|.*\b(?:ready|boot|booting|hello|welcome|ok)\b).*[a-z]{3}")
"""A line of words, but for a comment and a greeting."""


class _Form(NamedTuple):
    """What a line looks like."""

    marks: bytes
    """What is no digit, blank, sign or point."""
    size: int
    blanks: int
    signs: int
    digits: int
    wholes: int
    """Numbers without decimals."""
    places: tuple[int, ...]
    """Decimals of each of the others."""
    numbers: tuple[tuple[int, int], ...]
    """Digits in front of the point and behind it, of each number."""
    column: bool
    """A number in it is set right with blanks."""


class Layout:
    """Remembers how the lines of one instrument look.

    Parameters
    ----------
    point : str
        What stands before decimals.
    """

    def __init__(self, point: str = ".") -> None:
        self._numbers = _NUMBERS[point]
        self._forms: dict[bytes, _Form] = {}
        self._usual: dict[bytes, _Form] = {}
        """Of each kind of line, by its marks, the last that was not odd."""
        self._padded: set[bytes] = set()
        """Kinds that blanks fill to the same length."""
        self._free: set[bytes] = set()
        """Kinds that were taken for such and are not."""
        self._vary: set[bytes] = set()
        """Kinds that print as many decimals as they need."""
        self._same: dict[bytes, int] = {}
        """How many lines of a kind had as many decimals as the one before."""
        self._filled: dict[bytes, set[int]] = {}
        """Which numbers of a kind are filled with zeros."""
        self._odd, self._lines = 0, 0
        self._odd_at: deque[int] = deque(maxlen=STAYS - 1)
        """The last odd lines."""
        self._before = b""
        """The line before, where it gave no value."""
        self._labelled = False
        """A line of words came behind the last value: before the first one it is a greeting."""

    def forget(self) -> None:
        """Forget all lines: another instrument may answer now."""
        self._usual.clear()
        self._padded.clear()
        self._free.clear()
        self._vary.clear()
        self._same.clear()
        self._filled.clear()
        self._odd_at.clear()
        self._odd, self._labelled, self._before = 0, False, b""

    def passed(self, line: bytes) -> None:
        """Take note of a line without a value."""
        self._before = line

    def unread(self, line: bytes) -> None:
        """Take note of a line that fits no rule."""
        self._before = line
        words = (
            bool(self._usual)
            and line.isascii()
            and len(line) <= LABEL_MAX
            and _WORD.match(line) is not None
        )
        self._labelled |= words and _POINTED.search(line.translate(ALIKE)) is None

    def doubt(self, line: bytes) -> str:
        """Return why the values of a line may not be what they seem, or nothing."""
        if self._labelled:
            self._labelled = False
            return "a line of words stands before it"
        key = line.rstrip(b" ").translate(ALIKE)
        before, self._before = self._before, b""
        if before and key not in self._forms and (before + key).translate(ALIKE) in self._forms:
            return "it may be the end of the line before"
        form = self._forms.get(key)
        if form is None:
            if len(self._forms) >= FORMS or len(self._usual) >= KINDS:
                self._forms.clear()
                self._usual.clear()
            form = self._forms[key] = self._form_of(key)
        usual = self._usual.get(form.marks, form)
        odd = self._is_odd(form, usual) if form is not usual else self._is_rest(form)
        filled = self._filled.get(form.marks)
        if filled is not None or _FILLED.search(line) is not None:
            odd |= self._other_width(form, usual, line)
        self._lines += 1
        if odd and not self._prints_so(form.marks):
            return "a part of the line may be missing"
        self._odd = 0
        self._same[form.marks] = self._same.get(form.marks, 0) + 1
        self._usual[form.marks] = form
        return ""

    def _is_rest(self, form: _Form) -> bool:
        """Whether a line of a new kind is one of another kind that lost its beginning or its end.

        Then numbers are missing in it, or decimals.
        """
        if form.marks in self._usual:
            return False
        return any(
            len(other.marks) > len(form.marks)
            and (other.marks.startswith(form.marks) or other.marks.endswith(form.marks))
            and (len(form.numbers) < len(other.numbers) or sum(form.places) < sum(other.places))
            for marks, other in self._usual.items()
            if self._same.get(marks, 0) >= SAME
        )

    def _prints_so(self, marks: bytes) -> bool:
        """Whether odd lines come so often that the instrument prints them; then all are taken."""
        self._odd += 1
        often = len(self._odd_at) == STAYS - 1 and self._lines - self._odd_at[0] < WITHIN
        self._odd_at.append(self._lines)
        if self._odd < STAYS and not often:
            return False
        self._odd_at.clear()
        self._vary.add(marks)
        self._free.add(marks)
        self._padded.discard(marks)
        self._filled.pop(marks, None)
        return True

    def _other_width(self, form: _Form, usual: _Form, line: bytes) -> bool:
        """Whether a number that is filled with zeros is not as wide as before."""
        found = [m.start() for m in _FILLED.finditer(line)]
        places = [m.start() for m in self._numbers.finditer(line.translate(ALIKE))]
        filled = self._filled.setdefault(form.marks, set())
        new = {n for n, at in enumerate(places) if at in found}
        if len(form.numbers) != len(usual.numbers):
            return False
        if any(form.numbers[n][0] != usual.numbers[n][0] for n in (filled | new)):
            return True
        filled |= new
        return False

    def _is_odd(self, form: _Form, usual: _Form) -> bool:
        """Whether a line lacks something that those like it have."""
        marks = form.marks
        if marks not in self._free and (form.column or usual.column):
            self._padded.add(marks)
        if form.size == usual.size and form.blanks != usual.blanks:
            self._padded.add(marks)
        if form.places != usual.places and len(form.places) == len(usual.places):
            if marks not in self._vary and self._same.get(marks, 0) >= SAME:
                return self._other_decimals(form, usual)
            self._vary.add(marks)
        lost = len(usual.places) - len(form.places)
        if marks not in self._vary and lost > 0 and form.digits < usual.digits:
            return form.wholes >= usual.wholes + lost
        if lost:
            return False
        if marks in self._padded:
            return form.size != usual.size
        fewer = form.blanks < usual.blanks and form.digits <= usual.digits
        return form.size < usual.size and fewer and form.signs == usual.signs

    def _other_decimals(self, form: _Form, usual: _Form) -> bool:
        """Whether a number has other decimals than before, and not as many digits in all.

        A display that moves its point with the range shows as many digits as before.
        """
        pairs = zip(form.numbers, usual.numbers, strict=False)
        return any(a[1] != b[1] and sum(a) != sum(b) for a, b in pairs)

    def _form_of(self, key: bytes) -> _Form:
        """Return what a line looks like whose digits are all 0."""
        numbers = self._numbers.findall(key)
        return _Form(
            key.translate(None, b"0 +-.\t"),
            len(key),
            key.count(b" "),
            key.count(b"+") + key.count(b"-"),
            key.count(b"0"),
            sum(not places for _, places in numbers),
            tuple(len(places) for _, places in numbers if places),
            tuple((len(whole), len(places)) for whole, places in numbers),
            _COLUMN.search(key) is not None,
        )
