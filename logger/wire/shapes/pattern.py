"""Is the matching time of a pattern bounded? Answered from the pattern itself.

A backtracking matcher runs away when one text can be matched in exponentially many ways. That is so
exactly when the pattern's position automaton has a state with two different paths back to itself
over the same text, or a repeat whose body can be empty. Both are looked for here, on the subset of
patterns that line formats need: no look-around, no back-reference. Pure; what is only polynomially
slow is measured by ``ports.shapefiles`` on the hostile lines that ``hostile_lines`` makes.

References
----------
Weideman, van der Merwe, Berglund, Watson, "Analyzing matching time behavior of backtracking regular
expression matchers by using ambiguity of NFA", CIAA 2016, LNCS 9705, section 3: exponential
backtracking means exponential degree of ambiguity (EDA). DOI 10.1007/978-3-319-40946-7_27.
Weber, Seidl, "On the degree of ambiguity of finite automata", Theor. Comput. Sci. 88 (1991), EDA
criterion by the squared automaton. DOI 10.1016/0304-3975(91)90381-B.
"""

import importlib
import re
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

MAX_POSITIONS = 2000
MAX_LENGTH = 4000
_parser: Any = importlib.import_module("re._parser")
_codes: Any = importlib.import_module("re._constants")

SYMBOLS = 129
"""ASCII, and one symbol for every other character."""
_ALL = (1 << SYMBOLS) - 1
_CLASSES = {
    "CATEGORY_DIGIT": r"\d", "CATEGORY_NOT_DIGIT": r"\D",
    "CATEGORY_SPACE": r"\s", "CATEGORY_NOT_SPACE": r"\S",
    "CATEGORY_WORD": r"\w", "CATEGORY_NOT_WORD": r"\W",
}  # fmt: skip


class PatternTooWildError(ValueError):
    """A pattern that can run away, or that cannot be judged."""


@dataclass(slots=True)
class Automaton:
    """Position automaton: one state per character of the pattern, numbered from 0."""

    sets: list[int] = field(default_factory=list)
    """Symbols each position takes, as bits."""
    follow: list[dict[int, int]] = field(default_factory=list)
    """For each position, the positions after it with the number of ways to get there."""
    first: dict[int, int] = field(default_factory=dict)


@dataclass(slots=True)
class _Part:
    nullable: bool
    first: dict[int, int]
    last: dict[int, int]


def check_pattern(pattern: str) -> None:
    """Refuse a pattern whose matching time can grow exponentially with the line.

    Parameters
    ----------
    pattern : str
        For ``re``, ASCII.

    Raises
    ------
    PatternTooWildError
        With what is wrong with it.
    """
    automaton = automaton_of(pattern)
    if _ambiguous(automaton):
        raise PatternTooWildError(
            "one text fits it in ever more ways (a repeat inside a repeat, or two choices "
            "that look alike inside one), so it can run away; write each repeat once"
        )


@lru_cache(maxsize=1024)
def first_symbols(pattern: str) -> int:
    """Return the symbols that a text which fits may begin with, as bits; bit 128 is non-ASCII."""
    automaton = automaton_of(pattern)
    found = 0
    for p in automaton.first:
        found |= automaton.sets[p]
    return found


def automaton_of(pattern: str) -> Automaton:
    """Return the position automaton of a pattern.

    Raises
    ------
    PatternTooWildError
        If it cannot be judged.
    """
    if len(pattern) > MAX_LENGTH:
        raise PatternTooWildError(f"{len(pattern)} characters; at most {MAX_LENGTH} are read")
    try:
        re.compile(pattern, re.ASCII)
        parsed = _parser.parse(pattern, re.ASCII)
    except (re.error, OverflowError, RecursionError) as cause:
        raise PatternTooWildError(f"not a pattern: {cause}") from cause
    if parsed.state.flags & (re.IGNORECASE | re.MULTILINE | re.DOTALL | re.VERBOSE):
        raise PatternTooWildError("flags such as (?i) are not read here; write them out")
    automaton = Automaton()
    automaton.first = _sequence(parsed, automaton).first
    return automaton


def _sequence(items: Any, automaton: Automaton) -> _Part:
    whole = _Part(True, {}, {})
    for item in items:
        whole = _joined(whole, _item(item, automaton), automaton)
    return whole


def _joined(a: _Part, b: _Part, automaton: Automaton) -> _Part:
    _link(a.last, b.first, automaton)
    first = dict(a.first)
    if a.nullable:
        _add(first, b.first)
    last = dict(b.last)
    if b.nullable:
        _add(last, a.last)
    return _Part(a.nullable and b.nullable, first, last)


def _link(last: dict[int, int], first: dict[int, int], automaton: Automaton) -> None:
    for p, ways_out in last.items():
        for q, ways_in in first.items():
            after = automaton.follow[p]
            after[q] = min(2, after.get(q, 0) + ways_out * ways_in)


def _add(into: dict[int, int], more: dict[int, int]) -> None:
    for p, ways in more.items():
        into[p] = min(2, into.get(p, 0) + ways)


def _item(item: Any, automaton: Automaton) -> _Part:
    code, argument = item
    name = str(code)
    if name in ("LITERAL", "NOT_LITERAL", "ANY", "IN"):
        return _position(_symbols(name, argument), automaton)
    if name == "SUBPATTERN":
        if argument[1] or argument[2]:
            raise PatternTooWildError("flags such as (?i:...) are not read here; write them out")
        return _sequence(argument[3], automaton)
    if name == "BRANCH":
        parts = [_sequence(option, automaton) for option in argument[1]]
        if sum(part.nullable for part in parts) > 1:
            raise PatternTooWildError("two choices that may both be empty; leave one of them")
        whole = _Part(any(p.nullable for p in parts), {}, {})
        for part in parts:
            _add(whole.first, part.first)
            _add(whole.last, part.last)
        return whole
    if name in ("MAX_REPEAT", "MIN_REPEAT"):
        low, high, body = argument
        return _repeat(low, high, body, automaton)
    if name == "AT":
        return _Part(True, {}, {})
    raise PatternTooWildError(
        f"{name.lower()} is not read here (no look-around, no back-reference)"
    )


def _repeat(low: int, high: int, body: Any, automaton: Automaton) -> _Part:
    endless = high == _codes.MAXREPEAT
    copies = (max(low, 1) if endless else high) or 1
    if copies > MAX_POSITIONS:
        raise PatternTooWildError(f"a repeat of {copies}; write at most {MAX_POSITIONS}")
    whole = _Part(True, {}, {})
    for number in range(copies):
        part = _sequence(body, automaton)
        if part.nullable and (high > 1 or low == 0):
            raise PatternTooWildError("a repeat of something that may be empty; repeat the rest")
        if endless and number == copies - 1:
            _link(part.last, part.first, automaton)
        if number >= low:
            part.nullable = True
        whole = _joined(whole, part, automaton)
    return whole


def _position(symbols: int, automaton: Automaton) -> _Part:
    number = len(automaton.sets)
    if number >= MAX_POSITIONS:
        raise PatternTooWildError(f"more than {MAX_POSITIONS} characters when spelled out")
    automaton.sets.append(symbols)
    automaton.follow.append({})
    return _Part(False, {number: 1}, {number: 1})


def _symbols(name: str, argument: Any) -> int:
    if name == "ANY":
        return _ALL & ~(1 << ord("\n"))
    if name == "LITERAL":
        return _bit(argument)
    if name == "NOT_LITERAL":
        return _ALL & ~(_bit(argument) if argument < 128 else 0)
    found, negated = 0, False
    for code, value in argument:
        kind = str(code)
        if kind == "NEGATE":
            negated = True
        elif kind == "LITERAL":
            found |= _bit(value)
        elif kind == "RANGE":
            for c in range(value[0], min(value[1], 128) + 1):
                found |= _bit(c)
        else:
            found |= _category(str(value))
    return _ALL & ~(found & (_ALL >> 1)) if negated else found


def _category(name: str) -> int:
    wanted = re.compile(_CLASSES[name], re.ASCII)
    found = 0
    for c in range(SYMBOLS):
        if wanted.fullmatch(chr(c) if c < 128 else "\u2603"):
            found |= 1 << c
    return found


def _bit(c: int) -> int:
    return 1 << min(c, 128)


def _ambiguous(automaton: Automaton) -> bool:
    """True when some state has two different paths to itself over one text (EDA)."""
    group = cycles_of(automaton)
    for p, after in enumerate(automaton.follow):
        if any(ways > 1 and group[p] == group[q] and group[p] >= 0 for q, ways in after.items()):
            return True
    return any(
        _diverges_and_returns(p, automaton, group)
        for p in range(len(automaton.sets))
        if group[p] >= 0
    )


def _diverges_and_returns(home: int, automaton: Automaton, group: list[int]) -> bool:
    # Two paths that part at `home` and meet again anywhere on its cycle, over one text: from the
    # meeting place both go on to `home`, so `home` has two paths to itself.
    def after(pair: tuple[int, int]) -> list[tuple[int, int]]:
        left, right = ([q for q in automaton.follow[p] if group[q] == group[home]] for p in pair)
        return [(q, r) for q in left for r in right if automaton.sets[q] & automaton.sets[r]]

    todo = [(q, r) for q, r in after((home, home)) if q < r]
    seen = set(todo)
    while todo:
        for q, r in after(todo.pop()):
            if q == r:
                return True
            if (q, r) not in seen:
                seen.add((q, r))
                todo.append((q, r))
    return False


def cycles_of(automaton: Automaton) -> list[int]:
    """Return, for each position, the number of its cycle; -1 for one that lies on none."""
    size = len(automaton.sets)
    index, low, group = [-1] * size, [0] * size, [-1] * size
    stack: list[int] = []
    on_stack = [False] * size
    counter = 0
    for root in range(size):
        if index[root] >= 0:
            continue
        work = [(root, iter(automaton.follow[root]))]
        index[root] = low[root] = counter
        counter += 1
        stack.append(root)
        on_stack[root] = True
        while work:
            p, rest = work[-1]
            q = next(rest, None)
            if q is None:
                work.pop()
                if work:
                    low[work[-1][0]] = min(low[work[-1][0]], low[p])
                if low[p] == index[p]:
                    members = []
                    while True:
                        member = stack.pop()
                        on_stack[member] = False
                        members.append(member)
                        if member == p:
                            break
                    if len(members) > 1 or p in automaton.follow[p]:
                        for member in members:
                            group[member] = p
            elif index[q] < 0:
                index[q] = low[q] = counter
                counter += 1
                stack.append(q)
                on_stack[q] = True
                work.append((q, iter(automaton.follow[q])))
            elif on_stack[q]:
                low[p] = min(low[p], index[q])
    return group
