"""Writes back into files that people write: a fat, a correction, a lag, a role, a sensor.

Only the table or the key concerned changes; comments and order stay. The new text is read back
before it replaces the old file in one step, so that a file is never left broken.
"""

import itertools
import os
import re
from collections.abc import Callable
from pathlib import Path

from logger.control.sensor_answer import sensor_of, sensor_text
from logger.model.bench import ROLES, SCALE_ROLES, Bench, Channel, Sensor
from logger.model.errors import InputError
from logger.model.files import bench_from_text
from logger.science.fats.fatfile import builtin_fats, fats_from_toml
from logger.science.metrology.tolerance import classes_of

_HEAD = re.compile(r"^\s*\[", re.MULTILINE)


def save_fat(path: Path, key: str, table: str) -> None:
    """Put a fat into the user's fats file, in the place of an earlier one of the same key.

    Parameters
    ----------
    path : Path
        ``fats.toml``; made if missing.
    key : str
        Key of the fat.
    table : str
        Its TOML table, as ``science.fatfile.fat_as_toml`` writes it.

    Raises
    ------
    InputError
        If the file as it would be does not read.
    """
    old = path.read_text(encoding="utf-8") if path.is_file() else ""
    kept = "".join(block for block in blocks_of(old) if not block.strip().startswith(f"[{key}]"))
    new = (kept.rstrip() + "\n\n" if kept.strip() else "") + table
    replace_text(path, new, lambda text: fats_from_toml(text, path.name, builtin_fats()))


def save_correction(path: Path, channel_id: str, correction: str) -> None:
    """Put a dated correction into a channel of a bench file, in the place of an earlier one.

    Parameters
    ----------
    path : Path
        The bench file.
    channel_id : str
        Which channel.
    correction : str
        The inline table: ``{ offset = "-0.2 K", checked = 2026-11-02, by = "ice point" }``.

    Raises
    ------
    InputError
        If the channel is not written as a ``[[channel]]`` table of its own, or the file as it would
        be does not read.
    """
    text = _with_key(
        path.read_text(encoding="utf-8"), path.name, channel_id, "correction", correction
    )
    replace_text(path, text, lambda new: bench_from_text(new, path.name))


def save_lag(path: Path, channel_id: str, lag: str) -> None:
    """Put a dated time constant into a channel of a bench file, in the place of an earlier one.

    Parameters
    ----------
    path : Path
        The bench file.
    channel_id : str
        Which channel.
    lag : str
        The inline table: ``{ time_constant = "3.4 s", checked = 2026-11-02, by = "plunge" }``.

    Raises
    ------
    InputError
        As `save_correction`.
    """
    text = _with_key(path.read_text(encoding="utf-8"), path.name, channel_id, "lag", lag)
    replace_text(path, text, lambda new: bench_from_text(new, path.name))


def save_sensor(path: Path, channel_id: str, *, type_: str, class_: str, size: str = "") -> Sensor:
    """Write what a channel's sensor is into a bench file, as a person answered it.

    Parameters
    ----------
    path : Path
        The bench file.
    channel_id : str
        Which channel.
    type_, class_, size : str
        Answers, as ``sensor_answer.sensor_of`` takes them.

    Returns
    -------
    Sensor
        As it is written.

    Raises
    ------
    InputError
        If an answer does not do, there is no such channel, or as `save_correction`.
    """
    text = path.read_text(encoding="utf-8")
    channel = _channel_in(bench_from_text(text, path.name), path.name, channel_id)
    sensor = published(sensor_of(channel.unit, type_, class_, size, channel.sensor))
    text = _with_key(text, path.name, channel_id, "sensor", sensor_text(sensor))
    replace_text(path, text, lambda new: bench_from_text(new, path.name))
    return sensor


def published(sensor: Sensor) -> Sensor:
    """Return a sensor whose class its standard has for the type.

    Raises
    ------
    InputError
        If it has not.
    """
    if sensor.type is None or sensor.class_ is None:
        return sensor
    known = [str(c) for c in classes_of(sensor.type, sensor.standard)]
    if str(sensor.class_) not in known:
        raise InputError(
            "class",
            f"{sensor.standard} has no class {sensor.class_} of type {sensor.type}",
            f"it has {', '.join(known)}",
        )
    return sensor


def save_role(path: Path, channel_id: str, role: str) -> str | None:
    """Give a channel of a bench file a role; the channel that had it takes the other's.

    Parameters
    ----------
    path : Path
        The bench file.
    channel_id : str
        Which channel.
    role : str
        One of ``model.bench.ROLES``; a scale stays a scale and a probe a probe.

    Returns
    -------
    str or None
        Id of the channel that had the role and has the other's now.

    Raises
    ------
    InputError
        If there is no such channel or role, or it does not fit what the channel measures, or the
        channel is not written as a ``[[channel]]`` table of its own.
    """
    text = path.read_text(encoding="utf-8")
    bench = bench_from_text(text, path.name)
    channel = _channel_in(bench, path.name, channel_id)
    if role not in ROLES:
        raise InputError("role", f"no role {role!r}", f"write one of {', '.join(ROLES)}")
    if (role in SCALE_ROLES) != (channel.role in SCALE_ROLES):
        what = "a scale" if channel.role in SCALE_ROLES else "a probe"
        raise InputError(f"channel {channel_id!r}", f"is {what}", "choose a role of that kind")
    had = bench.channel_of(role)
    if had is not None and had.id != channel_id and role != "other":
        text = _with_key(text, path.name, had.id, "role", f'"{channel.role}"')
    else:
        had = None
    text = _with_key(text, path.name, channel_id, "role", f'"{role}"')
    replace_text(path, text, lambda new: bench_from_text(new, path.name))
    return had.id if had is not None else None


def _channel_in(bench: Bench, file: str, channel_id: str) -> Channel:
    channel = next((c for c in bench.channel if c.id == channel_id), None)
    if channel is None:
        known = ", ".join(c.id for c in bench.channel) or "none"
        raise InputError(file, f"no channel {channel_id!r}", f"there is {known}")
    return channel


def _with_key(text: str, file: str, channel_id: str, key: str, value: str) -> str:
    """Return a bench file's text with one key of one channel set; all else stays."""
    key_id = re.compile(rf"""^\s*id\s*=\s*["']{re.escape(channel_id)}["']""", re.MULTILINE)
    line = re.compile(rf"^[ \t]*{key}[ \t]*=.*\n?", re.MULTILINE)
    blocks = blocks_of(text)
    for place, block in enumerate(blocks):
        if block.lstrip().startswith("[[channel]]") and key_id.search(block):
            fresh = f"{key} = {value}\n"
            there = line.search(block)
            if there is not None:
                blocks[place] = block[: there.start()] + fresh + block[there.end() :]
            else:
                blocks[place] = f"{block.rstrip()}\n{fresh}\n"
            return "".join(blocks)
    raise InputError(
        f"{file}: channel {channel_id!r}",
        "no [[channel]] table of its own",
        f"write it by hand: {key} = {value}",
    )


def blocks_of(text: str) -> list[str]:
    """Cut a TOML text before each table head, with what stands before the first."""
    cuts = [0, *(m.start() for m in _HEAD.finditer(text) if m.start() > 0), len(text)]
    return [text[a:b] for a, b in itertools.pairwise(cuts) if b > a]


def replace_text(path: Path, text: str, check: Callable[[str], object]) -> None:
    """Put a text into a file whole or not at all, once it was read without an error.

    Parameters
    ----------
    path : Path
        The file.
    text : str
        All of its new content.
    check : callable
        Reads the text and raises if it is wrong; nothing is written then.
    """
    check(text)
    fresh = path.with_name(f".{path.name}.{os.getpid()}")
    fresh.write_text(text, encoding="utf-8")
    fresh.replace(path)
