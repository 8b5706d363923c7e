"""The recipe of DEVELOPERS.md for a kind of stage, followed in a copy of the tree, is enough.

Its files are written as they stand there; then that tree's own tests are run for the new kind.
"""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from logger.model.kinds.parts import file_of
from logger.virtual.batch import scenario
from logger.watch.engine import registry as watchers

ROOT = Path(__file__).resolve().parents[3]
KIND = "steam"
MOST_FILES = 8
REGISTRY = "logger/model/kinds/registry.py"
BLOCK = re.compile(
    r"^`([\w/]+\.py)`[^\n]*:\n\n```(python|diff)\n(.*?)^```$", re.DOTALL | re.MULTILINE
)
COPIED = ("logger", "tests/model/kinds", "tests/watch/engine")
FILES = (
    "pyproject.toml", "tests/__init__.py", "tests/conftest.py", "tests/all_kinds.py",
    "tests/watch/conftest.py", "tests/watch/made_up.py", "tests/watch/ingredients.py",
    "tests/watch/recording.py",
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


def test_limits_of_steam_are_never_loosened_and_it_ends_an_emulsion():
    kind = kind_named("steam")
    assert kind.tracks_core
    assert kind.never_loosened
    assert kind.heats_or_chills
'''


@pytest.fixture(scope="module")
def recipe() -> dict[str, tuple[str, str]]:
    """Return language and text of each file that the recipe names."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    part = text[text.index("**A kind of stage.**") :].partition("\n## ")[0]
    return {path: (language, body) for path, language, body in BLOCK.findall(part)}


def follow(recipe: dict[str, tuple[str, str]], tree: Path) -> None:
    for path, (language, body) in recipe.items():
        file = tree / path
        if language == "python":
            file.parent.mkdir(parents=True, exist_ok=True)
            assert not file.exists(), f"{path} is there already"
            file.write_text(body, encoding="utf-8")
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


def test_a_kind_added_by_the_recipe_is_complete_and_has_what_its_record_gives(recipe, tmp_path):
    for folder in COPIED:
        shutil.copytree(ROOT / folder, tmp_path / folder)
    for file in FILES:
        shutil.copy2(ROOT / file, tmp_path / file)
    follow(recipe, tmp_path)
    (tmp_path / "tests/test_steam.py").write_text(CHECK, encoding="utf-8")
    tests = [
        "tests/test_steam.py", "tests/model/kinds/test_complete.py",
        "tests/watch/engine/test_every_kind.py",
    ]  # fmt: skip
    ran = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-k", KIND, "-p", "no:cacheprovider",
         "--basetemp", str(tmp_path / "its"), *tests],
        cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(tmp_path)},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stdout + ran.stderr
    parts = (tmp_path / "tests/model/kinds/test_complete.py").read_text("utf-8").count("def its_")
    passed = int(re.search(r"(\d+) passed", ran.stdout)[1])
    assert passed == CHECK.count("\ndef test_") + parts + 1
