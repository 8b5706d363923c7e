"""What leads to which defect and how it shows: the knowledge file, read and checked.

Pure but for reading the built-in ``knowledge.toml`` that lies beside this module. A person's own
file comes in as text and is laid on top: a mechanism of the same id is replaced.
"""

import difflib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from logger.model.checks import CHECKS
from logger.model.errors import InputError
from logger.model.files import table_of
from logger.model.kinds.registry import KINDS, kind_named
from logger.review.features.feature import BY_NAME
from logger.review.features.portrait import GROUPS
from logger.review.why.pieces import ALL, QUANTITIES

Side = Literal["low", "high", "some"]
Direction = Side | Literal["usual", "zero", "apart"]
_DIRECTIONS = {
    "feature": ("low", "high", "usual", "zero", "apart"),
    "limit": ("low", "high", "some"),
    "piece": ("low", "high", "usual"),
}
_SIGNS = ("feature", "limit", "piece", "lot", "kind", "unweighed")
_NAMES: dict[Literal["feature", "limit", "piece"], Collection[str]] = {
    "feature": BY_NAME,
    "limit": CHECKS,
    "piece": (*QUANTITIES, ALL),
}
_TEXTS = ("id", "cause", "stage", "because", "source", "wrong_if", "next_time")
_LISTS = ("shows", "goes_with", "against")
_FLAGS = ("unseen", "sensors", "follows", "some")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """One thing to look for.

    Attributes
    ----------
    what : str
        ``feature``, ``limit``, ``piece``, ``lot``, ``kind`` or ``unweighed``.
    of : str
        Name of the feature, key of the check, quantity of a piece, or group of ingredients.
    direction : str
        ``low``, ``high`` or, of a feature, ``usual``, ``zero`` (within its uncertainty) and
        ``apart`` (surely not); ``some`` of a limit that only some pieces broke. Of a piece: lower
        or higher where the defect is than in the other pieces, or of all quantities ``usual``: as
        in the others.
    lesser : bool
        It shows the cause, but without it the cause is not ruled out.
    beyond : float or None
        Limit of a feature that counts where the sheet sets none [its unit].
    """

    what: Literal["feature", "limit", "piece", "lot", "kind", "unweighed"]
    of: str
    direction: Direction = "high"
    lesser: bool = False
    beyond: float | None = None

    @property
    def side(self) -> Side | None:
        """Side of a limit that it asks for; None where it asks for none."""
        return self.direction if self.direction in ("low", "high", "some") else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Mechanism:
    """One way in which a batch fails; the fields are those of the knowledge file."""

    id: str
    cause: str
    stage: str
    leads_to: tuple[str, ...]
    because: str
    source: str
    shows: tuple[Sign, ...]
    goes_with: tuple[Sign, ...]
    against: tuple[Sign, ...]
    wrong_if: str
    next_time: str
    unseen: bool = False
    sensors: bool = False
    follows: bool = False
    some: bool = False


@cache
def builtin_knowledge() -> tuple[Mechanism, ...]:
    """Return the knowledge that comes with the program."""
    text = files("logger.review").joinpath("knowledge.toml").read_text(encoding="utf-8")
    return knowledge_from_toml(text, "knowledge.toml")


def knowledge_from_toml(
    text: str, where: str, base: Sequence[Mechanism] = ()
) -> tuple[Mechanism, ...]:
    """Read mechanisms and lay them on top of others.

    Parameters
    ----------
    text : str
        TOML as in the built-in file.
    where : str
        Name of the file, for messages.
    base : sequence of Mechanism
        Mechanisms underneath.

    Returns
    -------
    tuple of Mechanism
        Those of `base`, replaced where the id is the same, then the new ones.

    Raises
    ------
    InputError
        If the text is no TOML, or a key, a feature or a group is not known.
    """
    data = table_of(text, where)
    unknown = sorted(set(data) - {"mechanism"})
    if unknown:
        raise InputError(f"{where}: {unknown[0]}", "an unknown table", "[[mechanism]] tables only")
    known = {m.id: m for m in base}
    for place, table in enumerate(data.get("mechanism", []), start=1):
        mechanism = _mechanism(table, f"{where}: mechanism[{place}]")
        known[mechanism.id] = mechanism
    return tuple(known.values())


def _mechanism(table: Any, where: str) -> Mechanism:
    if not isinstance(table, dict):
        raise InputError(where, repr(table), "a [[mechanism]] table")
    keys = (*_TEXTS, *_LISTS, *_FLAGS, "leads_to")
    for key in table:
        if key not in keys:
            near = difflib.get_close_matches(key, keys, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"keys are {', '.join(keys)}"
            raise InputError(f"{where}.{key}", "unknown key", hint)
    for key in _TEXTS:
        if not isinstance(table.get(key), str) or not table[key].strip():
            raise InputError(f"{where}.{key}", repr(table.get(key)), "give a text")
    if kind_named(table["stage"]) is None:
        kinds = ", ".join(kind.name for kind in KINDS)
        raise InputError(
            f"{where}.stage", f"no kind of stage {table['stage']!r}", f"one of {kinds}"
        )
    leads_to = table.get("leads_to")
    if not isinstance(leads_to, list) or not all(isinstance(d, str) for d in leads_to):
        raise InputError(f"{where}.leads_to", repr(leads_to), "a list of defects")
    signs = {
        key: tuple(_sign(s, f"{where}.{key}[{i}]") for i, s in enumerate(table.get(key, []), 1))
        for key in _LISTS
    }
    if not signs["shows"] and not table.get("unseen", False):
        raise InputError(f"{where}.shows", "nothing", "give a sign, or unseen = true")
    return Mechanism(
        **{key: table[key] for key in _TEXTS},
        leads_to=tuple(leads_to),
        shows=signs["shows"],
        goes_with=signs["goes_with"],
        against=signs["against"],
        unseen=bool(table.get("unseen", False)),
        sensors=bool(table.get("sensors", False)),
        follows=bool(table.get("follows", False)),
        some=bool(table.get("some", False)),
    )


def _sign(table: Any, where: str) -> Sign:
    if not isinstance(table, dict):
        raise InputError(where, repr(table), '{ feature = "...", is = "low" }')
    what = [key for key in _SIGNS if key in table]
    extra = sorted(set(table) - {*_SIGNS, "is", "lesser", "beyond"})
    if len(what) != 1 or extra:
        found = extra[0] if extra else " and ".join(what) or "none"
        raise InputError(where, found, f"exactly one of {', '.join(_SIGNS)}, and is")
    of = str(table[what[0]])
    for kind, known in _NAMES.items():
        if what[0] == kind:
            if of not in known:
                near = difflib.get_close_matches(of, known, n=1)
                hint = f"did you mean {(near or ['...'])[0]!r}?"
                raise InputError(where, f"{kind} {of!r}", hint)
            directions, found = _DIRECTIONS[kind], table.get("is")
            if kind == "piece":
                directions = ("usual",) if of == ALL else ("low", "high")
            if found not in directions:
                raise InputError(f"{where}.is", repr(found), f"one of {', '.join(directions)}")
            return Sign(
                what=kind,
                of=of,
                direction=found,
                lesser=bool(table.get("lesser")),
                beyond=_beyond(table, where),
            )
    if of not in GROUPS:
        raise InputError(where, f"group {of!r}", f"one of {', '.join(GROUPS)}")
    if what[0] == "lot":
        return Sign(what="lot", of=of)
    return Sign(what="kind" if what[0] == "kind" else "unweighed", of=of)


def _beyond(table: Mapping[str, Any], where: str) -> float | None:
    """Return the limit that counts where the sheet sets none; None without one."""
    found = table.get("beyond")
    if found is None:
        return None
    if "feature" not in table or table.get("is") not in ("low", "high"):
        raise InputError(f"{where}.beyond", repr(found), "with a feature that is low or high")
    if isinstance(found, bool) or not isinstance(found, int | float):
        raise InputError(f"{where}.beyond", repr(found), "a number in the unit of the feature")
    return float(found)
