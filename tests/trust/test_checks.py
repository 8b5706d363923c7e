"""The list of external checks in DEVELOPERS.md is the one that the tests give."""

import importlib.util
from pathlib import Path

_spec = importlib.util.spec_from_file_location("checks", Path(__file__).parent / "checks.py")
checks = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(checks)


def test_the_list_in_developers_md_is_up_to_date():
    assert checks.written(), "the marks of the list are missing"
    missing = sorted(set(checks.page_part().splitlines()) - set(checks.written().splitlines()))
    assert checks.written() == checks.page_part(), (
        f"run 'python -m tests.trust.checks --write'; new or changed: {missing[:5]}"
    )


def test_a_source_in_a_docstring_or_a_comment_is_found():
    found = checks.collected()
    assert ("the limit of initial verification", "OIML R 76-1:2006, table 6.") in found[
        "tests/science/metrology/test_balance.py"
    ]
    assert any("Handbook 44" in source for _, source in found["tests/wire/test_units.py"])
    assert "nist_srd60_its90.csv" in checks.fixtures()
    assert all(len(head) > 20 for head in checks.fixtures().values())


def test_what_is_no_source_is_not_listed():
    assert not checks.SOURCE.search("(410 x 65 + 1254 x 60) / 1664 = 61.23197 degC, by hand.")
    assert not checks.SOURCE.search("Sent on the 25th; a table of rows.")
