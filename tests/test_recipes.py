"""The recipes of DEVELOPERS.md, followed in a copy of the tree, are enough.

A line format, a check and a kind of stage are added as they stand there; then that tree's own tests
are run for what is new.
"""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from logger.model.kinds.record.parts import file_of
from logger.virtual.batch import scenario
from logger.watch.engine import registry as watchers

ROOT = Path(__file__).resolve().parents[1]
KIND = "steam"
MOST_FILES = 8
REGISTRY = "logger/model/kinds/registry.py"
BLOCK = re.compile(
    r"^`([\w/]+\.\w+)`[^\n]*:\n\n```(python|diff|toml)\n(.*?)^```$", re.DOTALL | re.MULTILINE
)
COPIED = ("logger", "tests/model/kinds", "tests/watch/engine", "tests/wire")
FILES = (
    "pyproject.toml", "tests/__init__.py", "tests/conftest.py", "tests/all_kinds.py",
    "tests/watch/conftest.py", "tests/watch/made_up.py", "tests/watch/ingredients.py",
    "tests/watch/recording.py", "tests/watch/bench_person.py",
)  # fmt: skip
CHECK = '''
"""What the record of steam gives it without a file or a list."""

import numpy as np

from logger.model.bench import bench_of_roles
from logger.model.event import Event
from logger.model.kinds.registry import kind_named
from logger.model.reading import Reading
from logger.review.features.facts import RunFacts
from logger.review.features.features import features
from logger.review.plan.plan import plan
from logger.review.trace import Trace
from logger.science.fats.fatfile import builtin_fats
from tests.watch.made_up import ROLES, S, engine, made_up_sheet

SHEET = made_up_sheet("steam")


def warmed():
    """Feed a core that rises from 20 to 79 degC within 60 s."""
    batch = engine(SHEET)
    batch.feed([Event(t_ns=0, kind="run_start", source="operator")], 0)
    batch.feed([Event(t_ns=0, kind="next", source="operator")], 0)
    batch.feed([Reading("core", k * S, 20.0 + k, 0.2, 0) for k in range(1, 60)], 60 * S)
    return batch


def test_steam_has_the_clock_of_the_danger_zone():
    """20 to 57 degC at 1 K/s, counted from the first reading: about 36 s within 5 to 57 degC."""
    results = warmed().finish(60 * S)
    assert 34.0 <= results.values["danger_zone_s"] <= 40.0


def core_judged(*temps_c):
    """Judge a core [degC] read once a second; None is a second without a reading."""
    batch = engine(SHEET)
    batch.feed([Event(t_ns=0, kind=kind, source="operator") for kind in ("run_start", "next")], 0)
    read = [(k * S, temp_c) for k, temp_c in enumerate(temps_c, 1)]
    readings = [Reading("core", t_ns, temp_c, 0.2, 0) for t_ns, temp_c in read if temp_c]
    batch.feed(readings, read[-1][0])
    found = batch.finish(read[-1][0]).findings
    return next(f for f in found if f.key == "steam.core_highest_c")


def test_steam_is_not_met_on_a_probe_pulled_out_into_the_chamber():
    found = core_judged(*np.linspace(40.0, 60.0, 300), *[80.0] * 300)
    assert found.verdict == "undecided"
    assert 59.0 < found.value <= 60.0
    assert "moved" in found.evidence


def test_steam_is_too_close_to_call_where_minutes_were_not_read():
    found = core_judged(*np.linspace(40.0, 60.0, 300), *[None] * 551, *[60.0] * 20)
    assert found.verdict == "undecided"
    assert "no readings" in found.evidence


def test_steam_that_stays_below_its_target_is_not_met():
    assert core_judged(*np.linspace(40.0, 60.0, 300)).verdict == "not met"


def test_steam_has_a_view_and_a_drawn_target():
    state = warmed().state(59 * S)
    assert state.view.say
    assert state.view.numbers[0].value == 79.0
    core = next(c for c in state.channels if c.role == "core")
    assert (core.low, core.high) == (72.0, None)


def test_steam_has_features():
    results = warmed().finish(60 * S)
    t_ns = np.arange(1, 60) * S
    trace = Trace(t_ns=t_ns, value=20.0 + t_ns / S, u=np.full(59, 0.2), flags=np.zeros(59, int))
    facts = RunFacts(
        run_id="one", sheet=SHEET, bench=bench_of_roles(ROLES), results=results,
        outcome=None, defects=(), read=lambda *_: trace, fats=builtin_fats(),
    )
    found = features(facts)
    assert 78.0 < found["core_highest_in_steam_c"].value <= 79.0
    assert abs(found["steam_s"].value - 60.0) < 1.0


def test_steam_has_a_row_in_the_plan_and_is_missed_on_a_bench_without_a_core():
    made = plan(SHEET, bench_of_roles(["fat"]), builtin_fats())
    row = next(p for p in made.predictions if p.stage == "steam")
    assert (row.low, row.unit) == (72.0, "degC")
    assert any(t.stage == "steam" for t in made.troubles)


def test_limits_of_steam_are_kept_and_it_ends_an_emulsion():
    kind = kind_named("steam")
    assert kind.tracks_core
    assert kind.keeps_limits
    assert kind.heats_or_chills
'''


FORMED = '''
"""What a check adds to a stage."""

from tests.watch.bench_person import Person

SHEET = """
[sheet]
name = "Smoked beet and barley roll"
[[stage]]
id = "shape"
kind = "form"
mass = { low = "52 g", high = "82 g" }
"""


def test_the_spread_of_three_pieces_is_judged_with_its_uncertainty():
    """60, 62 and 64 g: standard deviation 2 g of 62 g, 3.2 %, u = 3.2 / sqrt(4) %."""
    person = Person(SHEET).wait().put(146.0).tare().weigh(60.0, 62.0, 64.0)
    found = [f for f in person.end() if f.key == "form.spread_percent"]
    assert [f.check for f in found] == ["spread of the piece masses"]
    assert abs(found[0].value - 3.23) < 0.3
    assert abs(found[0].expanded_uncertainty - 3.2) < 0.3
    assert found[0].verdict == "met"
'''


def part_of(title: str, until: str) -> dict[str, tuple[str, str]]:
    """Return language and text of each file that a recipe names."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    part = text[text.index(f"**{title}.**") :].partition(until)[0]
    return {path: (language, body) for path, language, body in BLOCK.findall(part)}


@pytest.fixture(scope="module")
def recipe() -> dict[str, tuple[str, str]]:
    """Return the recipe of a kind of stage."""
    return part_of("A kind of stage", "\n## ")


@pytest.fixture(scope="module")
def tree(recipe, tmp_path_factory) -> Path:
    """Return a copy of the tree in which all recipes were followed."""
    tree = tmp_path_factory.mktemp("tree")
    for folder in COPIED:
        shutil.copytree(ROOT / folder, tree / folder)
    for file in FILES:
        shutil.copy2(ROOT / file, tree / file)
    follow(part_of("A line format", "**A check.**"), tree)
    follow(part_of("A check", "**An alarm.**"), tree)
    follow(recipe, tree)
    return tree


def run(tree: Path, *how: str) -> int:
    """Run tests of a tree; return how many passed, none failed."""
    ran = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider",
         "--basetemp", str(tree / "its"), *how],
        cwd=tree, env={**os.environ, "PYTHONPATH": str(tree)},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stdout + ran.stderr
    return int(re.search(r"(\d+) passed", ran.stdout)[1])


def follow(recipe: dict[str, tuple[str, str]], tree: Path) -> None:
    for path, (language, body) in recipe.items():
        file = tree / path
        if language == "python":
            file.parent.mkdir(parents=True, exist_ok=True)
            assert not file.exists(), f"{path} is there already"
            file.write_text(body, encoding="utf-8")
        elif language == "toml":
            file.write_text(f"{file.read_text(encoding='utf-8')}\n{body}", encoding="utf-8")
        else:
            file.write_text(with_lines_added(file.read_text(encoding="utf-8"), body), "utf-8")


def with_lines_added(text: str, diff: str) -> str:
    """Return a text with each ``+`` line put behind the line above it."""
    lines, place = text.splitlines(), 0
    for line in diff.splitlines():
        if line.startswith("+"):
            place += 1
            lines.insert(place, line[1:])
        else:
            assert lines.count(line[1:]) == 1, (
                f"{line[1:]!r} is there {lines.count(line[1:])} times"
            )
            place = lines.index(line[1:])
    return "\n".join(lines) + "\n"


def test_the_recipe_names_at_most_eight_files_and_those_the_parts_are_looked_for_in(recipe):
    assert len(recipe) <= MOST_FILES
    watcher = file_of(KIND, watchers.PLACE)
    assert set(recipe) == {
        file_of(KIND, "logger.model.kinds.{kind}"),
        REGISTRY,
        "logger/words/labels.py",
        watcher.replace("watcher.py", "__init__.py"),
        watcher,
        file_of(KIND, scenario.PLACE),
    }


def test_a_kind_added_by_the_recipe_is_complete_and_has_what_its_record_gives(tree):
    (tree / "tests/test_steam.py").write_text(CHECK, encoding="utf-8")
    passed = run(
        tree, "-k", KIND, "tests/test_steam.py", "tests/model/kinds/test_complete.py",
        "tests/watch/engine/test_every_kind.py",
    )  # fmt: skip
    parts = (tree / "tests/model/kinds/test_complete.py").read_text("utf-8").count("def its_")
    assert passed == CHECK.count("\ndef test_") + parts + 1


def test_a_line_format_added_by_the_recipe_reads_back_what_it_writes(tree):
    files = ("tests/wire/test_reader.py", "tests/wire/test_recognise.py")
    assert run(tree, "-k", "brackets", *files) >= 5


def test_a_check_added_by_the_recipe_is_declared_labelled_and_judged(tree):
    (tree / "tests/test_formed.py").write_text(FORMED, encoding="utf-8")
    assert run(tree, "tests/test_formed.py", "tests/model/kinds/test_complete.py", "-k", "form") > 1
