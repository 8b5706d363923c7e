"""The mutator changes one place at a time into something that still compiles and is another."""

import ast
from dataclasses import replace

from tests.mutants.changes import ROOT, Mutant, drawn, mutants_of
from tests.mutants.reach import Reached
from tests.mutants.trial import BUDGET_S, chosen, folder_of

TEXT = '''"""A module."""

LIMIT: float = 5.0


def judged(value: float, low: float) -> bool:
    """Whether it is in."""
    if not low <= value:
        raise ValueError(f"{value + 1} is below {low - 1}")
    return min(value, LIMIT) < 3 and -value != low
'''


def test_each_change_compiles_and_stands_alone(tmp_path):
    path = tmp_path / "module.py"
    path.write_text(TEXT, encoding="utf-8")
    found = list(mutants_of(path))
    whole = TEXT.encode()
    for one in found:
        changed = whole[: one.start] + one.now.encode() + whole[one.end :]
        assert ast.dump(ast.parse(changed)) != ast.dump(ast.parse(whole)), one
    assert {(m.was, m.now) for m in found} >= {
        ("5.0", "(7.6)"),
        ("not low <= value", "(low <= value)"),
        ("low <= value", "(low < value)"),
        ("min(value, LIMIT)", "(max(value, LIMIT))"),
        ("-value", "(value)"),
        ("-value != low", "(-value == low)"),
        ("3", "(4)"),
    }
    assert not any("1" in m.was for m in found), "texts of errors are left alone"


def test_the_same_seed_draws_the_same_and_each_has_tests_near():
    assert drawn(["correct"], 5, 1) == drawn(["correct"], 5, 1)
    for one in drawn(["correct"], 20, 2):
        assert any((ROOT / folder_of(one.path)).rglob("test_*.py"))


def test_the_tests_that_call_a_function_come_first_the_quickest_ahead(tmp_path):
    path = ROOT / "logger" / "correct" / "module.py"
    mutant = Mutant(path=path, line=9, function=7, start=0, end=1, was="1", now="2")
    here, other = "logger/correct/module.py:7", "logger/correct/module.py:3"
    reached = {
        "tests/correct/test_a.py::test_slow": Reached(seconds=9.0, functions=(here,)),
        "tests/correct/test_a.py::test_quick": Reached(seconds=0.1, functions=(here, other)),
        "tests/watch/test_b.py::test_far": Reached(seconds=0.1, functions=(here,)),
        "tests/watch/test_b.py::test_elsewhere": Reached(seconds=0.1, functions=(other,)),
        "tests/correct/test_a.py::test_near": Reached(seconds=0.1, functions=()),
        "tests/correct/test_a.py::test_too_long": Reached(seconds=BUDGET_S, functions=(here,)),
    }
    names = [name.rpartition("_")[2] for name in chosen(mutant, reached)]
    assert names == ["quick", "slow", "far", "near"]
    outside = replace(mutant, function=0)
    assert "elsewhere" in {name.rpartition("_")[2] for name in chosen(outside, reached)}


def test_a_change_knows_the_function_around_it(tmp_path):
    path = tmp_path / "module.py"
    path.write_text(TEXT, encoding="utf-8")
    around = {m.was: m.function for m in mutants_of(path)}
    assert around["5.0"] == 0
    assert around["3"] == 6
