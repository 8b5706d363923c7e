"""Does a line look like those before it, digits apart?

Bytes that got lost leave a line that still fits: 845 g for 845.3 g, 45.3 g for 845.3 g. A line of
words says that the value behind it is another one: a total, a limit. Pure; one object remembers the
lines of one instrument. Used by ``textline``.
"""

import re
from typing import NamedTuple

FORMS, KINDS = 512, 64
"""Forms of lines, and kinds of lines, that are remembered."""
STAYS = 3
"""So many odd lines in a row are how the instrument prints now."""
LABEL_MAX = 40
"""Longest line that is a label [bytes]."""
ALIKE = bytes(ord("0") if 0x30 <= c <= 0x39 else c for c in range(256))
_WHOLE = re.compile(rb"(?<![0.,])0+(?![0.,])")
_POINTED = re.compile(rb"0[.,](0+)")
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


class Layout:
    """Remembers how the lines of one instrument look."""

    def __init__(self) -> None:
        self._forms: dict[bytes, _Form] = {}
        self._usual: dict[bytes, _Form] = {}
        """Of each kind of line, by its marks, the last that was not odd."""
        self._padded: set[bytes] = set()
        """Kinds that blanks fill to the same length."""
        self._vary: set[bytes] = set()
        """Kinds that print as many decimals as they need."""
        self._odd = 0
        self._before = b""
        """The line before, where it gave no value."""
        self._labelled = False
        """A line of words came behind the last value: before the first one it is a greeting."""

    def forget(self) -> None:
        """Forget all lines: another instrument may answer now."""
        self._usual.clear()
        self._padded.clear()
        self._vary.clear()
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
            form = self._forms[key] = _form_of(key)
        usual = self._usual.get(form.marks, form)
        if form is not usual and self._is_odd(form, usual):
            self._odd += 1
            if self._odd < STAYS:
                return "a part of the line may be missing"
            self._vary.add(form.marks)
            self._padded.discard(form.marks)
        self._odd = 0
        self._usual[form.marks] = form
        return ""

    def _is_odd(self, form: _Form, usual: _Form) -> bool:
        """Whether a line lacks something that those like it have."""
        marks = form.marks
        if form.size == usual.size and form.blanks != usual.blanks:
            self._padded.add(marks)
        if form.places != usual.places and len(form.places) == len(usual.places):
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


def _form_of(key: bytes) -> _Form:
    """Return what a line looks like whose digits are all 0."""
    return _Form(
        key.translate(None, b"0 +-.\t"),
        len(key),
        key.count(b" "),
        key.count(b"+") + key.count(b"-"),
        key.count(b"0"),
        len(_WHOLE.findall(key)),
        tuple(map(len, _POINTED.findall(key))),
    )
