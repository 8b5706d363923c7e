"""``slab``: how fast calcium moves in a gel of one's own alginate, from a slab test.

Takes the readings, says the diffusivity and how far it lies from the default, and keeps it dated in
the data folder, where the plan and the bath take it from.
"""

import csv
import datetime
import re
from dataclasses import dataclass
from pathlib import Path

import click

from logger.batch.amounts import alginate_of, bath_amounts, coat_amounts
from logger.cli.options import data_option, json_option, print_json, say
from logger.model.errors import BainlogError, InputError, OutOfRangeError
from logger.model.files import sheet_from_text
from logger.model.quantity import quantity_at
from logger.model.sheet import Sheet
from logger.recorder.care.own_slabs import save_slab
from logger.recorder.setup import read_text, slabs_of
from logger.science.calcium.salts import (
    CAUTION,
    anhydrous_mass_fraction,
    free_calcium_mol_m3,
    salt_named,
)
from logger.science.gel.alginate import capacity_mol_m3, sol_density_kg_m3
from logger.science.gel.gelfront import D25_HIGH_M2_S, D25_LOW_M2_S, D25_M2_S
from logger.science.gel.slabfit import SLAB_METHOD
from logger.science.gel.slabs import SlabTest, says, slab_as_toml, slab_test
from logger.store.folder.datafolder import DataFolder
from logger.words.durations import duration_text
from logger.words.values import value_text

FILE = click.Path(path_type=Path, dir_okay=False)
LATE_SHARE = 0.3
"""A start of the front this far from the clock's, as a share of the first time, is worth a word."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Strengths:
    """What the slab and its bath were made of: name, capacity and free calcium [mol/m3]."""

    alginate: str
    capacity_mol_m3: float
    free_mol_m3: float


@click.command(epilog=f"How: {SLAB_METHOD} {CAUTION}")
@click.argument("readings", nargs=-1)
@click.option("--sheet", type=FILE, help="Sheet whose coat and bath were used.")
@click.option("--bath", help="Bath temperature, such as '19.5 degC'.")
@click.option("--alginate", help="Name of the alginate as in the sheets.")
@click.option("--strength", help="Alginate in the slab by mass, such as '1.5 %'.")
@click.option("--salt", help="Calcium salt with its hydrate, such as calcium_chloride_dihydrate.")
@click.option("--salt-mass", help="Salt in the bath, such as '10 g'.")
@click.option("--water", help="Water in the bath, such as '1 kg'.")
@click.option("--on", "day", help="Day of the test, such as 2026-11-20. [default: today]")
@click.option("--dry-run", is_flag=True, help="Only show the result; save nothing.")
@data_option
@json_option
def slab(
    readings: tuple[str, ...],
    sheet: Path | None,
    bath: str | None,
    alginate: str | None,
    strength: str | None,
    salt: str | None,
    salt_mass: str | None,
    water: str | None,
    day: str | None,
    dry_run: bool,
    data: Path,
    as_json: bool,
) -> None:
    """Record a slab test: how thick the set layer is, and when.

    READINGS are pairs such as '1 min=0.9 mm', or a CSV file with columns such as 'time [min]' and
    'thickness [mm]'. Coat and bath come from --sheet, or from --alginate, --strength, --salt,
    --salt-mass and --water. Without readings, lists the tests in use.
    """
    folder = DataFolder(data)
    if not readings:
        _list(list(slabs_of(folder).values()), as_json)
        return
    time_s, thick_mm = _readings(readings)
    if bath is None:
        raise InputError("--bath", "missing", "give the bath temperature, such as '19.5 degC'")
    temp_c = quantity_at("--bath", bath, "degC")
    try:
        made = _strengths(sheet, temp_c, alginate, strength, salt, salt_mass, water)
        test, fit = slab_test(
            made.alginate,
            _day(day),
            time_s,
            thick_mm,
            stefan=made.free_mol_m3 / made.capacity_mol_m3,
            temp_c=temp_c,
        )
    except OutOfRangeError as cause:
        raise InputError("slab test", f"{cause.name} is {cause.value:.3g}", cause.wanted) from cause
    told = says(test)
    if not dry_run:
        table = slab_as_toml(test, time_s, thick_mm, temp_c=temp_c)
        save_slab(folder.slabs_file, test, table)
        told += f"; kept in {folder.slabs_file.name}, used from the next run"
    if as_json:
        print_json(
            {
                **test.as_json(),
                "delay_s": fit.delay_s,
                "rms_mm": fit.rms_mm,
                "default_m2_s": [D25_LOW_M2_S, D25_M2_S, D25_HIGH_M2_S],
                "kept": not dry_run,
            }
        )
        return
    say(told)
    say(f"readings are {value_text(fit.rms_mm, 'mm')} off their line")
    if abs(fit.delay_s) > LATE_SHARE * min(time_s):
        side = "after" if fit.delay_s > 0.0 else "before"
        say(
            f"the front seems to have started {duration_text(abs(fit.delay_s))} {side} the clock: "
            "check "
            "when the clock was started and where the ruler begins"
        )


def _list(tests: list[SlabTest], as_json: bool) -> None:
    if as_json:
        print_json([t.as_json() for t in tests])
        return
    for test in tests:
        say(f"{test.tested}  {says(test)}")
    if not tests:
        say("No slab test yet: needed dwells come from the published range.")
        say(f"{SLAB_METHOD} {CAUTION}")


def _day(text: str | None) -> datetime.date:
    today = datetime.datetime.now().astimezone().date()
    if text is None:
        return today
    try:
        day = datetime.date.fromisoformat(text)
    except ValueError as cause:
        raise InputError("--on", repr(text), "a day such as 2026-11-20") from cause
    if day > today:
        raise InputError("--on", text, f"a day up to today, {today}")
    return day


# Coat and bath of the test.


def _strengths(
    sheet: Path | None,
    temp_c: float,
    alginate: str | None,
    strength: str | None,
    salt: str | None,
    salt_mass: str | None,
    water: str | None,
) -> Strengths:
    """Take each of name, coat and bath from its options, else from the sheet."""
    known = sheet_from_text(read_text(sheet), sheet.name) if sheet is not None else None
    name = alginate if alginate is not None else _of_sheet(known, "--alginate")
    if not name.strip():
        raise InputError("--alginate", "no name", "the alginate's name as in the sheets")
    if strength is not None:
        share = quantity_at("--strength", strength, "percent") / 100.0
        capacity = capacity_mol_m3(share, sol_density_kg_m3(share))
    else:
        coat = coat_amounts(known) if known is not None else None
        if coat is None:
            raise InputError("--strength", "missing", _WANTED["--strength"])
        capacity = coat.capacity_mol_m3
    given = (salt, salt_mass, water)
    if any(given):
        free = _free_mol_m3(temp_c, *given)
    else:
        amounts = bath_amounts(known) if known is not None else None
        if amounts is None:
            raise InputError("--salt", "missing", _WANTED["--salt"])
        free = amounts.free_mol_m3(temp_c)
    if not free > 0.0:
        raise InputError("bath", "no free calcium", "a bath with more salt than its citrate holds")
    return Strengths(alginate=name.strip(), capacity_mol_m3=capacity, free_mol_m3=free)


_WANTED = {
    "--alginate": "give it, or --sheet with one alginate in its coat phase",
    "--strength": "give it as '1.5 %', or --sheet with an alginate in its coat phase",
    "--salt": "give --salt, --salt-mass and --water, or --sheet with a bath phase",
}


def _of_sheet(known: Sheet | None, option: str) -> str:
    name = alginate_of(known) if known is not None else None
    if name is None:
        found = (
            "missing" if known is None else "the sheet's coat has more than one alginate, or none"
        )
        raise InputError(option, found, _WANTED[option])
    return name


def _free_mol_m3(
    temp_c: float, salt: str | None, salt_mass: str | None, water: str | None
) -> float:
    if salt is None or salt_mass is None or water is None:
        raise InputError("bath", "only part of it given", _WANTED["--salt"])
    salt_g, water_g = quantity_at("--salt-mass", salt_mass, "g"), quantity_at("--water", water, "g")
    if not (salt_g > 0.0 and water_g > 0.0):
        raise InputError("bath", f"{salt_mass} in {water}", "masses above 0")
    try:
        kind = salt_named(salt)
        share = anhydrous_mass_fraction(salt_g, water_g, kind)
        return free_calcium_mol_m3(share, temp_c, anhydrous_g_mol=kind.anhydrous_g_mol)
    except InputError:
        raise
    except BainlogError as cause:
        raise InputError("bath", str(cause), "correct salt, masses or temperature") from cause


# Readings.


def _readings(words: tuple[str, ...]) -> tuple[list[float], list[float]]:
    """Return times [s] and thicknesses [mm] of pairs, or of the one file named."""
    if len(words) == 1 and "=" not in words[0] and not _is_pair_without_sign(words[0]):
        return _from_file(Path(words[0]))
    time_s, thick_mm = [], []
    for word in words:
        when, is_pair, how_far = word.partition("=")
        if not is_pair:
            raise InputError("reading", repr(word), "a pair such as '1 min=0.9 mm'")
        time_s.append(quantity_at(f"reading {word!r}", when, "s"))
        thick_mm.append(quantity_at(f"reading {word!r}", how_far, "mm"))
    return time_s, thick_mm


def _is_pair_without_sign(word: str) -> bool:
    """Return whether a word has two numbers with units, and names no file."""
    return bool(re.fullmatch(r"[0-9][^=]*\s[0-9].*", word)) and not Path(word).exists()


def _from_file(path: Path) -> tuple[list[float], list[float]]:
    rows = list(csv.reader(read_text(path).splitlines()))
    head = [cell.strip() for cell in rows[0]] if rows else []
    units = [cell.partition("[")[2].rstrip("]").strip() for cell in head]
    names = [cell.partition("[")[0].strip().lower() for cell in head]
    for name in ("time", "thickness"):
        if name not in names or not units[names.index(name)]:
            raise InputError(
                f"{path.name}: row 1",
                ", ".join(head) or "nothing",
                "columns with their units, such as: time [min],thickness [mm]",
            )
    columns = [(names.index("time"), "s"), (names.index("thickness"), "mm")]
    found: list[list[float]] = [[], []]
    for number, row in enumerate(rows[1:], start=2):
        if not any(cell.strip() for cell in row):
            continue
        for values, (column, unit) in zip(found, columns, strict=True):
            cell = row[column].strip() if column < len(row) else ""
            where = f"{path.name}: row {number}, column {head[column]}"
            values.append(quantity_at(where, f"{cell} {units[column]}", unit))
    return found[0], found[1]
