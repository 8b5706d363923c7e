"""The knowledge file is read strictly; a person's own is laid on top."""

import pytest

from logger.model.errors import InputError
from logger.model.files import sheet_from_text
from logger.review.learn.sheets import template
from logger.review.why.knowledge import builtin_knowledge, knowledge_from_toml

OWN = """
[[mechanism]]
id = "{id}"
cause = "the stock was too salty"
stage = "weigh"
leads_to = ["broken emulsion"]
because = "salt drives proteins off the droplets"
source = "common practice, no source"
shows = [{{ {sign} }}]
wrong_if = "the salt was weighed elsewhere"
next_time = "weigh it twice"
"""


def test_every_mechanism_has_a_source_a_doubt_and_an_advice_and_leads_to_a_defect_of_the_sheet():
    defects = set(sheet_from_text(template(), "t").sheet.defects)
    for known in builtin_knowledge():
        assert known.source
        assert known.wrong_if
        assert known.next_time
        assert set(known.leads_to) <= defects, known.id
        assert known.shows or known.unseen
    assert {d for m in builtin_knowledge() for d in m.leads_to} >= defects - {"off taste"}


def test_an_own_mechanism_is_added_and_one_of_the_same_id_replaces():
    base = builtin_knowledge()
    sign = 'feature = "hydrate_s", is = "low"'
    added = knowledge_from_toml(OWN.format(id="salty", sign=sign), "own.toml", base)
    assert len(added) == len(base) + 1
    replaced = knowledge_from_toml(OWN.format(id="short_dwell", sign=sign), "own.toml", base)
    assert len(replaced) == len(base)
    assert next(m for m in replaced if m.id == "short_dwell").cause == "the stock was too salty"


@pytest.mark.parametrize(
    ("sign", "says"),
    [
        ('feature = "hydrate_ss", is = "low"', "did you mean 'hydrate_s'"),
        ('feature = "hydrate_s", is = "lower"', "one of low, high, usual"),
        ('lot = "sugar"', "one of fat, water"),
        ('feature = "hydrate_s", lot = "fat", is = "low"', "exactly one of"),
        ('limit = "coat.mass_kg", is = "low"', "did you mean 'coat.mass_g'"),
        ('limit = "coat.mass_g", is = "usual"', "one of low, high, some"),
        ('piece = "coat_cm", is = "low"', "did you mean 'coat_mm'"),
        ('limit = "coat.mass_g", is = "low", beyond = 3', "with a feature that is low or high"),
        ('feature = "coat_g", is = "low", beyond = "3 g"', "a number in the unit"),
        ('feature = "hydrate_s", is = "low", much = 1', "much"),
    ],
)
def test_a_wrong_sign_is_told_with_its_place(sign, says):
    with pytest.raises(InputError, match=says) as caught:
        knowledge_from_toml(OWN.format(id="x", sign=sign), "own.toml")
    assert "mechanism[1].shows[1]" in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("wrong_if", "wrong_iff", "did you mean 'wrong_if'"),
        ('next_time = "weigh it twice"', "", "give a text"),
        ('["broken emulsion"]', '"broken emulsion"', "a list of defects"),
        ('"weigh"', '"wiegh"', "no kind of stage 'wiegh'; one of weigh, hydrate"),
        ("[[mechanism]]", "[[mechanisms]]", "an unknown table"),
        ("[[mechanism]]", "[[mechanism", "at line 2"),
    ],
)
def test_a_wrong_file_is_told_in_one_line(old, new, says):
    text = OWN.format(id="x", sign='feature = "hydrate_s", is = "low"')
    with pytest.raises(InputError, match=says):
        knowledge_from_toml(text.replace(old, new), "own.toml")
