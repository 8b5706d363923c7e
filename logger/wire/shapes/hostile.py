"""Lines that are worst for a pattern: it tries as many ways as it has, and fails at the end.

Pure; ``ports.shapefiles`` runs a user's patterns on them and measures.
"""

from logger.wire.shapes.pattern import Automaton, automaton_of, cycles_of


def hostile_lines(pattern: str, length: int) -> list[str]:
    """Return lines that make a pattern try as many ways as it has, and then fail.

    Parameters
    ----------
    pattern : str
        A pattern that `check_pattern` lets pass.
    length : int
        Longest line [characters].
    """
    automaton = automaton_of(pattern)
    group = cycles_of(automaton)
    alike = {_one(symbols) for symbols in automaton.sets}
    lines = dict.fromkeys((c * length)[: length - 1] + "\x01" for c in sorted(alike))
    for p in range(len(automaton.sets)):
        if group[p] < 0:
            continue
        lead = _path(automaton, automaton.first, p, None)
        loop = _path(automaton, automaton.follow[p], p, group)
        if lead is None or loop is None:
            continue
        for spelled in _spellings(loop, automaton):
            start = "".join(_one(automaton.sets[q]) for q in lead)
            room = max(1, (length - len(start) - 1) // len(spelled))
            lines[(start + spelled * room + "\x01")[:length]] = None
            lines[(spelled * (length // len(spelled)) + "\x01")[:length]] = None
    return list(lines)


def _path(
    automaton: Automaton, first: dict[int, int], goal: int, group: list[int] | None
) -> list[int] | None:
    before: dict[int, int | None] = dict.fromkeys(first)
    todo = list(first)
    for p in todo:
        if p == goal:
            path: list[int] = []
            at: int | None = p
            while at is not None:
                path.append(at)
                at = before[at]
            return path[::-1]
        for q in automaton.follow[p]:
            if q not in before and (group is None or group[q] == group[goal]):
                before[q] = p
                todo.append(q)
    return None


def _spellings(loop: list[int], automaton: Automaton) -> list[str]:
    # A loop of one position is tried with one character of each class it shares with another, so
    # that two loops which overlap are both fed.
    if len(loop) > 1:
        return ["".join(_one(automaton.sets[q]) for q in loop)]
    own = automaton.sets[loop[0]]
    shared = {_one(own & other) for other in set(automaton.sets) if own & other}
    return sorted(shared)


def _one(symbols: int) -> str:
    for wanted in "0 aA.-":
        if symbols >> ord(wanted) & 1:
            return wanted
    lowest = (symbols & -symbols).bit_length() - 1
    return chr(lowest) if lowest < 128 else "\u2603"
