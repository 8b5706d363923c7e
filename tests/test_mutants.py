"""The mutator changes one place at a time into something that still compiles and is another."""

import ast

from tests.mutants import ROOT, drawn, folders_of, mutants_of

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


def test_the_same_seed_draws_the_same_and_each_has_tests():
    assert drawn(["correct"], 5, 1) == drawn(["correct"], 5, 1)
    for one in drawn(["correct"], 20, 2):
        for folder in folders_of(one.path):
            assert (ROOT / folder).is_dir()
