"""Line formats from files: the built-in ones and the user's own, tried on hostile lines.

A pattern that can run away would stop the reading of a port for ever. The static check at loading
refuses exponential ones; here each pattern of a user's file is also run in a child process on the
lines that are worst for it, and the child is ended when it takes too long.
"""

import os
import re
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

from logger.model.errors import InputError
from logger.wire.samples import wrong_samples
from logger.wire.shapes.hostile import hostile_lines
from logger.wire.shapes.shape import Shape, builtin_shapes, shapes_from_text

MAX_FILE_NAME = 40
MAX_TEXT = 1_000_000
TRIAL_S = 1.0
"""Longest that all patterns of one file may take on their hostile lines [s]."""
LINE_S = 0.1
"""Longest that a pattern may take on one line [s of the processor]."""
START_S = 20.0
"""What a busy machine may take to start the child [s]."""
_TRIAL = """
import json, re, sys, time
jobs = json.load(sys.stdin)
print("ready", flush=True)
for number, (pattern, lines) in enumerate(jobs):
    fullmatch = re.compile(pattern, re.ASCII).fullmatch
    print(number, flush=True)
    for line in lines:
        start = time.process_time()
        fullmatch(line)
        if time.process_time() - start > LINE_S:
            raise SystemExit
print("done", flush=True)
"""


def load_shapes(paths: Iterable[Path]) -> dict[str, Shape]:
    """Return the built-in line formats and those of files.

    Parameters
    ----------
    paths : iterable of Path
        TOML files; a folder stands for its ``*.toml`` files that hold line formats
        (``*.shapes.toml``).

    Raises
    ------
    InputError
        With file, shape and key. A shape may not take the name of a built-in one, so that a bench
        file means the same everywhere.
    """
    shapes = builtin_shapes()
    origin = dict.fromkeys(shapes, "the built-in line formats")
    for path in paths:
        for file in sorted(path.glob("*.shapes.toml")) if path.is_dir() else [path]:
            own = shapes_from_text(_text(file), file.name)
            for name in own:
                if name in shapes:
                    raise InputError(
                        f'{file.name}: shape."{name}"',
                        f"is also in {origin[name]}",
                        "give it another name",
                    )
            try_patterns(own, file.name)
            _try_samples(own, file.name)
            shapes.update(own)
            origin.update(dict.fromkeys(own, file.name))
    return shapes


def keep_shape(folder: Path, name: str, text: str, *, again: bool = False) -> Path:
    """Keep a line format as a file of the data folder, once it was tried like any other.

    Parameters
    ----------
    folder : Path
        The data folder.
    name : str
        Name of the format; a file name is made of its letters.
    text : str
        The file.
    again : bool
        Whether the same file may be there already.

    Raises
    ------
    InputError
        If the name is taken, or the format reads its samples otherwise or can take too long.
    """
    plain = "-".join(re.findall(r"[a-z0-9]+", name.lower()))[:MAX_FILE_NAME] or "taught"
    path = folder / f"{plain}.shapes.toml"
    if again and path.is_file() and _text(path) == text:
        return path
    if path.exists():
        raise InputError(str(path), "already exists", "give the line format another name")
    known = load_shapes(sorted(folder.glob("*.shapes.toml")))
    own = shapes_from_text(text, path.name)
    for one in own:
        if one in known:
            raise InputError(f"line format {one!r}", "already exists", "give another name")
    try_patterns(own, path.name)
    _try_samples(own, path.name)
    fresh = path.with_name(f".{path.name}.{os.getpid()}")
    fresh.write_text(text, encoding="utf-8")
    fresh.replace(path)
    return path


def free_name(folder: Path, wanted: str = "my instrument") -> str:
    """Return a name for a line format that no file of the data folder has yet.

    Parameters
    ----------
    folder : Path
        The data folder.
    wanted : str
        How the name begins.
    """
    taken = load_shapes(sorted(folder.glob("*.shapes.toml")))
    names = (wanted if n == 1 else f"{wanted} {n}" for n in range(1, len(taken) + 2))
    return next(name for name in names if name not in taken)


def _try_samples(shapes: dict[str, Shape], file: str) -> None:
    for name, shape in shapes.items():
        for wrong in [] if shape.like else wrong_samples(shape):
            raise InputError(f'{file}: shape."{name}".sample', wrong, "correct it, or the pattern")


def try_patterns(shapes: dict[str, Shape], file: str, *, limit_s: float = TRIAL_S) -> None:
    """Run the patterns of shapes on the lines that are worst for them, in a child process.

    Parameters
    ----------
    shapes : dict of str to Shape
        To be tried.
    file : str
        File name for messages.
    limit_s : float
        Longest time for all of them [s].

    Raises
    ------
    InputError
        Naming the shape whose pattern did not come to an end in time.
    """
    jobs, owners = [], []
    for name, shape in shapes.items():
        for pattern in shape.patterns:
            jobs.append((pattern, hostile_lines(pattern, shape.frame.max)))
            owners.append((name, pattern))
    if not jobs:
        return
    number = _stuck_at(jobs, limit_s)
    if number is not None:
        name, pattern = owners[number]
        raise InputError(
            f'{file}: shape."{name}": pattern {pattern!r}',
            "takes too long on a line made to be hard for it",
            "it can run endlessly: no two neighbouring repeats may take the same characters",
        )


def _stuck_at(jobs: list[tuple[str, list[str]]], limit_s: float) -> int | None:
    """Return the number of the job the child hung at, or None when it came to its end."""
    import json
    import threading

    child = subprocess.Popen(
        [sys.executable, "-I", "-c", f"LINE_S = {LINE_S}" + _TRIAL],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=_small_environment(),
    )
    if child.stdin is None or child.stdout is None:
        raise RuntimeError("a child process without pipes")
    timer = threading.Timer(START_S, child.kill)
    said: list[str] = []
    try:
        timer.start()
        with child.stdin as to_child:
            json.dump(jobs, to_child)
        for line in child.stdout:
            said.append(line.strip())
            if said == ["ready"]:
                timer.cancel()
                timer = threading.Timer(limit_s, child.kill)
                timer.start()
    finally:
        timer.cancel()
        child.kill()
        child.wait()
        child.stdout.close()
    if not said:
        raise InputError("line formats", "the test of their patterns did not start", "try again")
    if said[-1] == "done":
        return None
    return int(said[-1]) if said[-1].isdecimal() else 0


def _small_environment() -> dict[str, str]:
    return {k: v for k, v in os.environ.items() if k in ("PATH", "SYSTEMROOT", "TEMP", "TMP")}


def _text(file: Path) -> str:
    if file.exists() and not file.is_file():
        raise InputError(str(file), "not an ordinary file", "give a file of line formats")
    try:
        with file.open("rb") as opened:
            data = opened.read(MAX_TEXT + 1)
    except OSError as cause:
        raise InputError(str(file), f"cannot be read: {cause.strerror}", "check it") from cause
    if len(data) > MAX_TEXT:
        raise InputError(str(file), f"over {MAX_TEXT} bytes", f"give a file of at most {MAX_TEXT}")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as cause:
        raise InputError(str(file), "is not UTF-8", "save it as UTF-8") from cause
