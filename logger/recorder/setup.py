"""From the files of a bench to what a recorder is started with.

Thin I/O: reads bench, shapes, sheet, fats and slab tests, and lets ``model``, ``wire`` and
``science`` judge their text.
"""

import dataclasses
from collections.abc import Mapping
from pathlib import Path

from logger.batch.amounts import slab_for
from logger.batch.names import known_sheet
from logger.model.bench import Bench
from logger.model.errors import InputError
from logger.model.event import Event
from logger.model.files import MAX_TEXT, bench_from_text
from logger.model.sheet import Sheet
from logger.ports.shapefiles import load_shapes
from logger.science.fats.fatfile import builtin_fats, fats_from_toml
from logger.science.fats.fats import Fat
from logger.science.gel.slabs import SlabTest, slabs_from_toml
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.given import text_of
from logger.wire.shapes.shape import Shape

MAX_BYTES = 4 * MAX_TEXT
"""Largest file that is read [bytes]; looked at before it is opened."""


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """What a recorder is started with.

    Attributes
    ----------
    bench, bench_text : Bench, str
        The instruments, and the file as it was read.
    shapes, shapes_text : mapping, str
        Line formats by name, and the user's own as TOML.
    sheet_text : str or None
        Sheet that a start without one takes.
    fats : mapping
        Fats by key.
    resume : bool
        Go on with a run that a kill left open in this boot.
    """

    bench: Bench
    bench_text: str
    shapes: Mapping[str, Shape]
    shapes_text: str = ""
    sheet_text: str | None = None
    fats: Mapping[str, Fat]
    resume: bool = True


def fats_of(folder: DataFolder) -> dict[str, Fat]:
    """Return the built-in fats with those of the data folder's ``fats.toml`` on top.

    Raises
    ------
    InputError
        If the file does not read.
    """
    path = folder.fats_file
    built_in = builtin_fats()
    return fats_from_toml(read_text(path), path.name, built_in) if path.is_file() else built_in


def slabs_of(folder: DataFolder) -> dict[str, SlabTest]:
    """Return the latest slab test of each alginate in the data folder's ``slabs.toml``.

    Raises
    ------
    InputError
        If the file does not read.
    """
    path = folder.slabs_file
    return slabs_from_toml(read_text(path), path.name) if path.is_file() else {}


def slab_events(sheet: Sheet, slabs: Mapping[str, SlabTest]) -> list[Event]:
    """Return what a run file must say at its start of the slab test that it is judged with: then a
    later test changes nothing in it."""
    test = slab_for(sheet, slabs)
    if test is None:
        return []
    text = f"needed dwells of {test.alginate} are computed from {test.named}"
    return [Event(t_ns=0, kind="slab_test", source="recorder", text=text, data=test.as_json())]


def read_text(path: Path) -> str:
    """Read a file that a person wrote.

    Raises
    ------
    InputError
        If it is not there, is no ordinary file, is too large, or is no text.
    """
    return text_of(path, MAX_BYTES).replace("\r\n", "\n")


def setup_from_files(
    folder: DataFolder, bench: Path | None, sheet: Path | None, *, resume: bool = True
) -> Setup:
    """Read all that a recorder needs; without a bench file it has no instrument yet.

    Parameters
    ----------
    folder : DataFolder
        Holds fats, slab tests and, without a bench file, line formats.
    bench : Path or None
        Bench file; line formats lie beside it.
    sheet : Path or None
        Sheet that a start without one takes.
    resume : bool
        Go on with a run that a kill left open in this boot.

    Raises
    ------
    InputError
        If a file is wrong; it says where.
    """
    bench_text = read_text(bench) if bench is not None else ""
    own = sorted((bench.parent if bench is not None else folder.path).glob("*.shapes.toml"))
    sheet_text = read_text(sheet) if sheet is not None else None
    shapes = load_shapes(own)
    name = bench.name if bench is not None else "bench.toml"
    wired = bench_from_text(bench_text, name)
    for instrument in wired.instrument:
        if instrument.shape not in shapes:
            raise InputError(
                f"{name}: instrument {instrument.id!r}: shape",
                f"{instrument.shape!r} is not known",
                "line formats are " + ", ".join(sorted(shapes)),
            )
    fats = fats_of(folder)
    if sheet is not None and sheet_text is not None:
        known_sheet(sheet_text, sheet.name, fats, wired if wired.channel else None)
    return Setup(
        bench=wired,
        bench_text=bench_text,
        shapes=shapes,
        shapes_text="\n".join(read_text(p) for p in own),
        sheet_text=sheet_text,
        fats=fats,
        resume=resume,
    )
