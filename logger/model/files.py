"""Text of a bench or sheet file to data, with errors a person can act on.

Pure: takes text and the file's name for messages; callers read and write the files. An unknown key
is answered with the nearest known one.
"""

import difflib
import re
import reprlib
import tomllib
from collections.abc import Callable
from typing import Any, TypeVar, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from logger.model.bench import Bench
from logger.model.errors import InputError
from logger.model.lines import first_of, line_of, meant_line
from logger.model.quantity import example
from logger.model.sheet import Sheet, WrittenSheet, as_weighed
from logger.model.written import BY_HAND, AtKeyError, field_unit

_BARE = re.compile(r'(?P<key>[a-z_]+) = "(?P<number>[0-9]+(?:\.[0-9]+)?)"')
"""A key with a number in quotes and no unit behind it."""
MAX_TEXT = 1_000_000
"""Longest file that is read [characters]; a batch sheet has a few thousand."""
MAX_DOTS = 1_000
"""Most dots in a line: the time to parse a key grows with the square of its parts."""

CORRECT_IT = "correct it"
"""What is wanted where what was found says it."""

Model = TypeVar("Model", bound=BaseModel)


def bench_from_text(text: str, name: str) -> Bench:
    """Read a bench file.

    Parameters
    ----------
    text : str
        TOML.
    name : str
        File name for messages.

    Raises
    ------
    InputError
        With the file and the key, what was found and what would do.
    """
    return _read(Bench, text, name)


def sheet_from_text(text: str, name: str) -> Sheet:
    """Read a batch sheet, its ingredients as they are weighed in.

    Parameters
    ----------
    text : str
        TOML.
    name : str
        File name for messages.

    Raises
    ------
    InputError
        As `bench_from_text`, with the line of the key.
    """
    try:
        return as_weighed(_read(WrittenSheet, text, name))
    except AtKeyError as cause:
        raise _with_line(at_key(cause, name), text, name) from cause
    except InputError as cause:
        raise _with_line(cause, text, name) from cause


def at_key(cause: AtKeyError, name: str) -> InputError:
    """Return what is wrong at a key that the whole sheet was needed to judge."""
    return InputError(f"{name}: {cause.key}", cause.found, cause.wanted)


def _with_line(cause: InputError, text: str, name: str) -> InputError:
    """Return what is wrong with the line of its key, where that is found."""
    _, _, key = cause.where.partition(f"{name}: ")
    line = line_of(text, key) if key and not key.startswith("at line") else None
    if line is None:
        return cause
    return InputError(f"{name}: at line {line}: {key}", cause.found, cause.wanted)


def _read(model: type[Model], text: str, name: str) -> Model:
    data = table_of(text, name)
    try:
        return model.model_validate(data, context={BY_HAND: True})
    except ValidationError as cause:
        raise told(cause, in_order(cause)[0], data, name, model) from cause


def table_of(text: str, name: str) -> dict[str, Any]:
    """Read any TOML that a person wrote, for no longer than its size is worth.

    Parameters
    ----------
    text : str
        TOML.
    name : str
        File name for messages.

    Raises
    ------
    InputError
        If it is no TOML, too large, or nested too deeply.
    """
    if len(text) > MAX_TEXT:
        raise InputError(name, f"{len(text)} characters", f"give a file of at most {MAX_TEXT}")
    if (dots := max((line.count(".") for line in text.splitlines()), default=0)) > MAX_DOTS:
        raise InputError(name, f"a line with {dots} dots", "write keys of a few parts")
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as cause:
        raise _broken_line(text, name, cause) from cause
    except ValueError as cause:  # an integer of thousands of digits
        raise InputError(name, "a number that can't be read", "write a shorter one") from cause
    except RecursionError as cause:
        raise InputError(name, "tables nested too deeply", "write flat tables") from cause


def _broken_line(text: str, name: str, cause: ValueError) -> InputError:
    """Return what is wrong with the line that is no TOML, with its right form where that shows."""
    place = line_of(text, str(cause))
    if place is None or not _has_our_table(text):
        return InputError(name, f"this is not TOML: {cause}", CORRECT_IT)
    place, meant = meant_line(text, place)
    line = text.splitlines()[place - 1].strip() if place <= len(text.splitlines()) else ""
    if meant == "]":
        return InputError(
            name,
            f"the list that begins at line {place} has no end",
            "write ] behind its last entry",
        )
    if not meant and not line.isascii() and not line.partition("=")[0].isascii():
        return InputError(name, f"at line {place}: {line}", "write the key with the letters a to z")
    first = None if meant else first_of(text, place)
    if first is not None:
        return _twice(name, text.splitlines(), place, first)
    if not meant:
        return InputError(name, f"this is not TOML: {cause}", "correct that line")
    if line.count('"') % 2 and len(meant) < len(line):  # the form lacks what the mark swallowed
        return InputError(name, f"at line {place}: {line}", "close each text with a quotation mark")
    if bare := _BARE.fullmatch(meant):
        units = _units_of(bare["key"])
        if len(units) == 1:
            shown = example(units.pop(), bare["number"])
            return InputError(
                name, f"at line {place}: {line}", f'write for example {bare["key"]} = "{shown}"'
            )
    return InputError(name, f"at line {place}: {line}", f"write {meant}")


def _units_of(key: str) -> set[str]:
    """Return the units that fields of a sheet by this key are read in."""
    found = set[str]()

    def look(name: str, info: FieldInfo) -> None:
        if (info.alias or name) == key and (unit := field_unit(name)) is not None:
            found.add(unit)

    _each_field(WrittenSheet, look)
    return found


def _twice(name: str, lines: list[str], place: int, first: int) -> InputError:
    """Return what is wrong with a line that says again what an earlier one says."""
    line, before = (lines[at - 1].partition("#")[0].strip() for at in (place, first))
    if not line.startswith("["):
        again = f"at line {place}: {line.partition('=')[0].strip()} again, first at line {first}"
        return InputError(name, again, "keep one of them")
    head = line.strip("[] ")
    fields = {**Bench.model_fields, **WrittenSheet.model_fields}
    several = head in fields and get_origin(fields[head].annotation) is list
    if several or "[[" in line + before:
        at = first if line.startswith("[[") else place
        return InputError(name, f"at line {at}: [{head}]", f"write [[{head}]]")
    again = f"at line {place}: [{head}] again, first at line {first}"
    return InputError(name, again, "keep one of them")


def _has_our_table(text: str) -> bool:
    """Return whether a text has a table of ours: of any other file no line is shown."""
    ours = {*WrittenSheet.model_fields, *Bench.model_fields, "shape"}
    heads = (line.strip().strip("[] ") for line in text.splitlines() if line.lstrip()[:1] == "[")
    return any(re.split(r"[.\s]", head)[0] in ours for head in heads)


def in_order(cause: ValidationError) -> list[Any]:
    """Return the errors of a file, in the order in which they are told."""
    # An unknown key explains a missing one, so it is told first.
    return sorted(cause.errors(), key=lambda e: e["type"] != "extra_forbidden")


def told(
    cause: ValidationError, error: Any, data: Any, name: str, model: type[BaseModel]
) -> InputError:
    """Return one error of a file as it is told.

    Parameters
    ----------
    cause : ValidationError
        With all of them.
    error : object
        One of `in_order`.
    data : object
        What the file holds.
    name : str
        What messages call it.
    model : type
        What it should be.
    """
    where = f"{name}: {_path(error['loc'], data)}"
    kind, context = error["type"], error.get("ctx", {})
    if kind == "extra_forbidden":
        key = str(error["loc"][-1])
        near = difflib.get_close_matches(key, _known_keys(cause, model), n=1, cutoff=0.5)
        wanted = f"did you mean {near[0]!r}?" if near else "take it out"
        if near and near[0] == key:
            wanted = f"{key!r} belongs in another table"
            if key in model.model_fields:
                wanted = f"begin it with [[{key}]], or with [{key}] where there is only one"
        return InputError(where, "unknown key", wanted)
    if kind == "list_type" and len(error["loc"]) == 1 and isinstance(error["input"], dict):
        return InputError(where, f"[{error['loc'][0]}]", f"write [[{error['loc'][0]}]]")
    if kind == "missing":
        return InputError(where, "missing", "add it")
    if kind == "union_tag_invalid":
        near = difflib.get_close_matches(
            str(context["tag"]), [t.strip(" '") for t in context["expected_tags"].split(",")], n=1
        )
        hint = f"did you mean {near[0]!r}? " if near else ""
        return InputError(
            where, f"kind {context['tag']!r}", f"{hint}write one of {context['expected_tags']}"
        )
    if kind == "union_tag_not_found":
        return InputError(where, "no kind", 'add kind = "..."')
    if kind == "too_long":
        most = context["max_length"]
        found = f"{context.get('actual_length', 'more')} of them"
        return InputError(where, found, f"write at most {most}")
    if kind == "value_error" and isinstance(context["error"], AtKeyError):
        wrong = context["error"]
        return InputError(f"{where}.{wrong.key}", wrong.found, wrong.wanted)
    if kind == "value_error":
        found, _, wanted = str(context["error"]).partition("; ")
        if not error["loc"] and ": " in found:  # said of the whole file, with its own key
            key, _, found = found.partition(": ")
            where = f"{name}: {key}"
        return InputError(where, found, wanted or CORRECT_IT)
    return InputError(where, f"found {reprlib.repr(error['input'])}", _wanted(error))


_WANTED = {
    "string_type": "write text in quotes",
    "string_too_short": "write something between the quotes",
    "string_pattern_mismatch": "small letters, digits, - and _ only",
    "int_type": "write a whole number",
    "int_parsing": "write a whole number",
    "int_from_float": "write a whole number",
    "float_type": "write a number",
    "float_parsing": "write a number with a point, without quotes",
    "bool_type": "write true or false",
    "bool_parsing": "write true or false",
    "list_type": "write a list in [ ]; a table that may occur several times in [[ ]]",
    "dict_type": "write a table",
    "model_type": "write a table",
    "finite_number": "write a finite number",
}
_LIMITS = {
    "greater_than": ("gt", "it must be above {}"),
    "greater_than_equal": ("ge", "it must be at least {}"),
    "less_than": ("lt", "it must be below {}"),
    "less_than_equal": ("le", "it must be at most {}"),
}


def _wanted(error: Any) -> str:
    """Say in plain words what would do in place of what was found."""
    kind, context = error["type"], error.get("ctx", {})
    if kind in _LIMITS:
        end, says = _LIMITS[kind]
        return says.format(f"{context[end]:g}")
    if kind == "literal_error":
        choices = context["expected"].replace("' or '", "', '").strip("'").split("', '")
        near = difflib.get_close_matches(str(error["input"]), choices, n=1)
        # Which hydrate it is stands on the jar, and is not to be guessed.
        hint = f"did you mean {near[0]!r}? " if near and error["loc"][-1] != "salt" else ""
        return f"{hint}write one of {context['expected']}"
    return _WANTED.get(kind, str(error["msg"]))


def _path(loc: tuple[int | str, ...], data: Any) -> str:
    """Return the key path without the union tags that pydantic puts into it."""
    parts: list[str] = []
    here = data
    for step in loc:
        if isinstance(step, int):
            parts[-1:] = [f"{parts[-1]}[{step + 1}]"] if parts else [f"[{step + 1}]"]
            here = here[step] if isinstance(here, list) and step < len(here) else None
        elif isinstance(here, dict) and step not in here and here.get("kind") == step:
            continue
        else:
            parts.append(step)
            here = here.get(step) if isinstance(here, dict) else None
    return ".".join(parts) or "file"


def _known_keys(cause: ValidationError, model: type[BaseModel]) -> list[str]:
    """Return every key that some table of the file knows."""
    keys: set[str] = set()
    _each_field(model, lambda name, info: keys.add(info.alias or name))
    return sorted(keys)


def _each_field(model: type[BaseModel], look: Callable[[str, FieldInfo], None]) -> None:
    """Hand on every field of some table of the file."""
    seen: set[type[BaseModel]] = set()

    def walk(table: Any) -> None:
        if isinstance(table, type) and issubclass(table, BaseModel):
            if table in seen:
                return
            seen.add(table)
            for field_name, info in table.model_fields.items():
                look(field_name, info)
                walk(info.annotation)
            return
        for part in getattr(table, "__args__", ()):
            walk(part)

    walk(model)
