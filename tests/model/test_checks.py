"""A check is known by a key that its kind declares, and by nothing else."""

import ast
import re
from pathlib import Path

import pytest

from logger.model.checks import CHECKS, RUN_CHECKS, check_of
from logger.model.errors import UndeclaredKeyError
from logger.model.kinds.coat import CoatStage
from logger.model.kinds.record.kind import Check, Figure, Kind
from logger.model.kinds.registry import KINDS
from logger.words.labels import check_label

ROOT = Path(__file__).resolve().parents[2]
JUDGED = [c.key for kind in KINDS for c in kind.checks] + [c.key for c in RUN_CHECKS]
KEY = re.compile(rf"({'|'.join([*(k.name for k in KINDS), 'run'])})\.[a-z0-9_]+")


def keys_in(path: Path) -> set[str]:
    """Return the keys that a module writes; a part that is filled in later is ``.+``."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            if KEY.fullmatch(node.value):
                found.add(re.escape(node.value))
        elif isinstance(node, ast.JoinedStr):
            parts = [
                re.escape(v.value) if isinstance(v, ast.Constant) else ".+" for v in node.values
            ]
            if KEY.fullmatch("".join(parts).replace("\\.", ".").replace(".+", "x")):
                found.add("".join(parts))
    return found


@pytest.fixture(scope="module")
def used():
    return {
        (str(path.relative_to(ROOT)), key)
        for room in ("watch", "review")
        for path in sorted((ROOT / "logger" / room).rglob("*.py"))
        for key in keys_in(path)
    }


def test_every_key_that_is_written_is_declared(used):
    assert len(used) > 40
    assert not [
        (where, key) for where, key in used if not any(re.fullmatch(key, k) for k in CHECKS)
    ]


def test_every_declared_key_is_used_by_a_watcher(used):
    watchers = [k for where, k in used if where.startswith("logger/watch")]
    assert not [key for key in JUDGED if not any(re.fullmatch(k, key) for k in watchers)]


@pytest.mark.parametrize("key", [*CHECKS, *(f"figure.{f.name}" for k in KINDS for f in k.figures)])
def test_every_key_has_a_label(key):
    assert check_label(key, "oat fibre")
    assert check_of(key).key == key


@pytest.mark.parametrize("key", JUDGED)
def test_a_label_names_its_subject_exactly_where_there_are_several(key):
    assert ("7.5" in check_label(key, "7.5")) == bool(check_of(key).subject)


def test_no_two_checks_have_one_label():
    labels = [check_label(key, "7.5" if check_of(key).subject else "") for key in JUDGED]
    assert len(set(labels)) == len(labels)


def test_a_key_that_no_kind_declares_is_refused_by_name():
    with pytest.raises(UndeclaredKeyError, match=r"coat\.smell"):
        check_of("coat.smell")
    with pytest.raises(UndeclaredKeyError, match=r"coat\.smell"):
        check_label("coat.smell")


def test_a_kind_without_a_key_for_its_figure_is_refused_by_name():
    figure = Figure(name="coat_mm", label="coat", unit="mm", least=0.1, judged_by="coat.thick_mm")
    with pytest.raises(UndeclaredKeyError, match=r"coat\.thick_mm.*'coat'.*coat_mm"):
        Kind(name="coat", model=CoatStage, title="Coat", example="", figures=(figure,))


@pytest.mark.parametrize("keys", [["dip.mass_g"], ["coat.mass_g", "coat.mass_g"]])
def test_a_key_is_of_its_kind_and_there_once(keys):
    checks = tuple(Check(key=key, unit="g") for key in keys)
    with pytest.raises(UndeclaredKeyError, match="mass_g"):
        Kind(name="coat", model=CoatStage, title="Coat", example="", checks=checks)


def test_a_figure_that_no_check_judges_has_no_uncertainty_of_one():
    from logger.review.features.feature import judging_key

    with pytest.raises(UndeclaredKeyError, match=r"coat_spread_percent.*'coat'"):
        judging_key("coat_spread_percent")
