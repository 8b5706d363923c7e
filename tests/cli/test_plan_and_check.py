"""What is told of a sheet before anything is weighed: two commands, one answer."""

import json
import re

import pytest
from click.testing import CliRunner

from logger.cli.main import group
from logger.review.learn.sheets import template
from tests.cli.inside import ran


@pytest.fixture
def told(tmp_path):
    def tell(old, new):
        path = tmp_path / "roll.sheet.toml"
        assert template().count(old) >= 1
        path.write_text(template().replace(old, new, 1))
        data = ["--data", str(tmp_path / "data")]
        check, plan, as_json = (
            CliRunner().invoke(group, [*words, str(path), *data])
            for words in (["sheet", "check"], ["plan"], ["plan", "--json"])
        )
        return check, plan, json.loads(as_json.output)

    return tell


def grave(text):
    found = re.findall(r"^will not work \[\w+\]: (.+?)[;.] ", text, re.MULTILINE | re.IGNORECASE)
    return [f.lower() for f in found]


@pytest.mark.parametrize(
    ("old", "new", "wrong"),
    [
        ("name", "name", 0),
        ('mass = "180 g"', 'mass = "180 kg"', 3),
        ('mass = "180 g"', 'mass = "1800 g"', 1),
    ],
)
def test_a_check_and_a_plan_find_the_same_wrong_with_a_sheet(told, old, new, wrong):
    check, plan, found = told(old, new)
    assert len(grave(plan.output)) == wrong
    assert grave(check.output) == grave(plan.output)
    says = [t["says"].lower() for t in found["troubles"] if t["weight"] == "will not work"]
    assert len(says) == wrong
    assert str(check.exception or "") == str(plan.exception or "")
    assert bool(wrong) == (f"{wrong} thing" in str(plan.exception))


def test_a_slip_of_the_unit_leads_to_no_temperature_below_that_of_the_air(told):
    _, _, found = told('mass = "180 g"', 'mass = "180 kg"')
    (mixed,) = [p for p in found["predictions"] if p["name"] == "mixing_temp_c"]
    assert 21.0 < mixed["value"] < 52.5
    assert mixed["low"] > 21.0


def test_a_sheet_goes_onto_paper_and_the_code_only_where_a_screen_can_open_it(tmp_path):
    ran(tmp_path, "sheet", "new", "roll.sheet.toml")
    paper = ("-o", "card.pdf", "--page", "http://192.168.1.20:8420")
    assert "No QR code" in ran(tmp_path, "sheet", "card", "roll.sheet.toml", *paper).stderr
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF")
    saved = tmp_path / "data" / "sheets" / "roll.sheet.toml"
    saved.write_bytes((tmp_path / "roll.sheet.toml").read_bytes())
    assert not ran(tmp_path, "sheet", "card", "roll.sheet.toml", *paper).stderr
    with_token = (*paper[:3], "http://192.168.1.20:8420/?token=beet-root")
    wrong = ran(tmp_path, "sheet", "card", "roll.sheet.toml", *with_token, code=2).stderr
    assert "write http://192.168.1.20:8420" in wrong
    assert "beet-root" not in wrong
    ran(tmp_path, "sheet", "recipe", "roll.sheet.toml", "-o", "recipe.png", "--paper", "letter")
    assert (tmp_path / "recipe.png").read_bytes().startswith(b"\x89PNG")
    ending = ran(tmp_path, "sheet", "recipe", "roll.sheet.toml", "-o", "recipe.txt", code=2).stderr
    assert "name it .pdf or .png" in ending
