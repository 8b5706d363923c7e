"""What is typed into the form is in the text, and nothing else of the text has changed."""

import re
import tomllib
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.batch.form.changes import Change, changed
from logger.batch.form.fields import stage_fields
from logger.batch.form.places import at_path, paths_of
from logger.batch.form.reading import OTHERS, form_of
from logger.model.errors import InputError
from logger.model.files import sheet_from_text
from logger.model.kinds.registry import KINDS

ROOT = Path(__file__).resolve().parents[3]
ROLL = (ROOT / "logger" / "virtual" / "roll.sheet.toml").read_text("utf-8")
RECIPES = ROOT / "tests" / "model" / "recipe"
SHEETS = [ROLL, *((RECIPES / f"{n}.sheet.toml").read_text("utf-8") for n in ("sausage", "frank"))]
HARD = '''# first of all
[sheet] # the head
name = "Beet roll" # its name
notes = """
no comment, and no table:
[[stage]]
"""

# of the butter
[[ingredient]]
name = "butter" # unsalted
phase = "fat"
mass = "180 g" # weighed cold
allergens = [
  # the only one
  "milk",
]

# between the two

[[ingredient]]
phase = "water"
name = "stock"
amount = "1.5 % of phase"

[[ingredient.alternative]]
name = "water" # from the tap

[[subrecipe]] # the day before
name = "stock" # of beets

# peeled

[[subrecipe.ingredient]]
name = "beets" # small ones
mass = "900 g" # peeled

[[subrecipe.ingredient.alternative]]
name = "turnips" # white

[[subrecipe.ingredient]] # tap
name = "water"
amount = "1 kg"

# of glass
[[vessel]]
id = "jug" # the tall one
holds = "water"

[[result]] # by all
name = "bite" # crisp
low = 1 # soft

[[stage]]
id = "rest"
kind = "work" # hands off
time = { low = "3 min", high = "6 min" } # longer is fine
# the end
'''
COMMENT = re.compile(r"#[^\n\"]*$", re.MULTILINE)
ROWS = ("name", "amount", "tolerance", "price", "lot")
TYPED = st.sampled_from(
    ["", "12", "5,5", "1.5 % of phase", "to taste", 'a "quoted" \\ name', "é\t#"]
)


def comments(text: str) -> Counter[str]:
    return Counter(COMMENT.findall(text))


def sets(text: str) -> st.SearchStrategy[Change]:
    """Anything typed into a field that the form of a text has."""
    form = form_of(text, "s")
    places = [("ingredient", r.place, (key,)) for r in form.ingredients for key in ROWS]
    places += [("stage", c.place, v.field.path) for c in form.stages for v in c.values]
    places += [("sheet", 0, v.field.path) for v in form.head]
    cards = (*form.entries, *form.others)
    places += [(c.table, c.place, v.field.path) for c in cards for v in c.values]
    made = st.builds(lambda at, value: (*at, value), st.sampled_from(places), TYPED)
    return made.map(lambda m: Change(act="set", table=m[0], place=m[1], path=m[2], value=m[3]))


@settings(max_examples=12, deadline=None)
@given(data=st.data(), text=st.sampled_from([*SHEETS, HARD]))
def test_whatever_is_typed_loses_no_comment_and_leaves_all_else(data, text):
    change = data.draw(sets(text))
    if change.path == ("allergens",) and "# the only one" in text and change.place == 0:
        with pytest.raises(InputError, match="in the text"):
            changed(text, "s", [change])
        return
    after = changed(text, "s", [change])
    old, new = tomllib.loads(text), tomllib.loads(after)
    assert comments(after) == comments(text)
    here = [at_path(t, paths_of(t, change.table)[change.place]) for t in (old, new)]
    keys = {"mass", "amount"} if change.path == ("amount",) else {change.path[0]}
    rest = [{k: v for k, v in table.items() if k not in keys} for table in here]
    assert rest[0] == rest[1]
    for table in here:
        table.clear()
    assert old == new
    assert changed(after, "s", [change]) == after


@settings(max_examples=8, deadline=None)
@given(data=st.data(), text=st.sampled_from([*SHEETS, HARD]), table=st.sampled_from(OTHERS))
def test_a_table_added_anywhere_and_removed_leaves_the_same_sheet_and_its_comments(
    data, text, table
):
    """A new one goes behind those of its name, or is the last inside the one that is named."""
    old = tomllib.loads(text)
    outer = table.rpartition(".")[0]
    many = len(paths_of(old, outer or table))
    if outer and not many:
        return
    place = data.draw(st.integers(0, max(many - 1, 0)))
    more = changed(text, "s", [Change(act="add", table=table, place=place)])
    assert comments(more) == comments(text)
    before, after = paths_of(old, table), paths_of(tomllib.loads(more), table)
    assert len(after) == len(before) + 1
    inside = [path for path in before if path[1] <= place]
    new = len(inside) if outer else min(place + 1, len(before))
    less = changed(more, "s", [Change(act="remove", table=table, place=new)])
    assert tomllib.loads(less) == old
    assert comments(less) == comments(text)


@settings(max_examples=8, deadline=None)
@given(data=st.data(), text=st.sampled_from([*SHEETS, HARD]))
def test_tables_moved_there_and_back_are_the_same_text(data, text):
    table = data.draw(st.sampled_from(["ingredient", "stage"]))
    many = len(tomllib.loads(text)[table])
    place, to = (data.draw(st.integers(0, many - 1)) for _ in range(2))
    there = changed(text, "s", [Change(act="move", table=table, place=place, to=to)])
    assert comments(there) == comments(text)
    names = [one.get("name", one.get("id")) for one in tomllib.loads(there)[table]]
    wanted = [one.get("name", one.get("id")) for one in tomllib.loads(text)[table]]
    wanted.insert(to, wanted.pop(place))
    assert names == wanted
    assert changed(there, "s", [Change(act="move", table=table, place=to, to=place)]) == text


@pytest.mark.parametrize("text", [*SHEETS, HARD])
def test_the_form_with_nothing_typed_anew_is_the_same_text(text):
    form = form_of(text, "s")
    same = [
        Change(act="set", table="ingredient", place=r.place, path=(key,), value=getattr(r, key))
        for r in form.ingredients[:2]
        for key in ROWS
    ]
    same += [
        Change(act="set", table="stage", place=c.place, path=v.field.path, value=v.value)
        for c in form.stages[:2]
        for v in c.values
    ]
    same += [
        Change(act="set", table=c.table, place=c.place, path=v.field.path, value=v.value)
        for c in (*form.entries, *form.others)
        for v in c.values
    ]
    assert changed(text, "s", same) == text


def test_a_removed_table_leaves_its_comment_and_a_new_one_stands_behind():
    without = changed(HARD, "s", [Change(act="remove", table="ingredient", place=0)])
    assert "# of the butter\n" in without
    assert "  # the only one\n" in without
    assert [one["name"] for one in tomllib.loads(without)["ingredient"]] == ["stock"]
    values = (("name", "salt"), ("phase", "water"), ("amount", "5"))
    new = Change(act="add", table="ingredient", place=1, values=values)
    more = tomllib.loads(changed(HARD, "s", [new]))["ingredient"]
    assert more[2] == {"name": "salt", "phase": "water", "mass": "5 g"}
    assert more[1]["alternative"] == [{"name": "water"}]


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_a_new_stage_of_any_kind_can_be_filled_in_and_reads(kind):
    new = Change(act="add", table="stage", value=kind.name)
    text = changed('[sheet]\nname = "x"\n', "s", [new, new])
    ids = [one["id"] for one in tomllib.loads(text)["stage"]]
    assert ids == [kind.name, f"{kind.name}_2"]
    like = form_of(kind.example, "s").stages[0]
    fill = [
        Change(act="set", table="stage", place=1, path=v.field.path, value=v.value)
        for v in like.values
        if v.value and v.field.path != ("id",)
    ]
    filled = changed(text, "s", fill)
    made = form_of(filled, "s").stages[1]
    assert [v for v in made.values if v.field.path != ("id",)] == [
        v for v in like.values if v.field.path != ("id",)
    ]
    assert {v.field for v in made.values} == set(stage_fields(kind.name))
    if like.kind != "fat_curve":  # its fat is not optional, and the first stage has none
        sheet_from_text(filled, "s")


@pytest.mark.parametrize(
    ("typed", "written"),
    [
        ("5", 'mass = "5 g"'),
        ("0.5 kg", 'mass = "0.5 kg"'),
        ("5,5", 'mass = "5.5 g"'),
        ("0,125 kg", 'mass = "0.125 kg"'),
        ("1,500 g", 'amount = "1,500 g"'),
        ("4 to 6 g", 'amount = "4 to 6 g"'),
        ("to taste", 'amount = "to taste"'),
    ],
)
def test_an_amount_is_written_under_the_key_that_takes_it(typed, written):
    change = Change(act="set", table="ingredient", path=("amount",), value=typed)
    assert f"{written} # weighed cold\n" in changed(HARD, "s", [change])


def test_a_bare_number_gets_the_unit_of_its_field_but_a_time_none():
    """Who types 8 for a time means minutes, and seconds would be wrong as right."""
    rest = Change(act="set", table="stage", place=0, path=("time", "low"), value="4")
    oil = Change(act="set", table="stage", place=0, path=("oil_temp", "high"), value="160")
    text = changed(HARD, "s", [rest, oil])
    assert 'time = { low = "4", high = "6 min" } # longer is fine' in text
    assert 'oil_temp = { high = "160 degC" }' in text
    light = Change(act="set", table="ingredient", place=0, path=("density",), value="0.92")
    assert 'density = "0.92 g/ml"' in changed(HARD, "s", [light])


@pytest.mark.parametrize(
    "change",
    [
        Change(act="set", table="ingredient", place=9, path=("name",), value="x"),
        Change(act="set", table="ingredient", place=-1, path=("name",), value="x"),
        Change(act="set", table="stage", place=0, path=("__class__",), value="x"),
        Change(act="set", table="stage", place=0, path=("time", "low"), value="x" * 3_000),
        Change(act="remove", table="stage", place=4),
        Change(act="remove", table="stage", place=-1),
        Change(act="move", table="stage", place=0, to=5),
        Change(act="move", table="ingredient", place=-1, to=0),
        Change(act="remove", table="sheet"),
        Change(act="add", table="stage", value="no such kind"),
    ],
    ids=str,
)
def test_a_change_that_has_no_place_is_refused(change):
    with pytest.raises(InputError):
        changed(HARD, "s", [change])


@pytest.mark.parametrize(
    "value",
    ["\"'''\"", '\'a"""b\'', '"x" # \'\'\' or """', '"""two\n[[stage]]\nlines"""', "'''\n\"'''"],
)
def test_quotes_inside_a_text_hide_no_table(value):
    text = f'[sheet]\nname = "x"\nnotes = {value}\n\n[[stage]]\nid = "a"\nkind = "work"\n'
    said = Change(act="set", table="stage", place=0, path=("text",), value="stir")
    assert changed(text, "s", [said]) == text + 'text = "stir"\n'


def test_tables_written_as_a_list_are_left_to_be_written_by_hand():
    text = '[sheet]\nname = "x"\n'.join(['ingredient = [{ name = "a", phase = "fat" }]\n', ""])
    with pytest.raises(InputError, match="in the text"):
        changed(text, "s", [Change(act="remove", table="ingredient")])
    change = Change(act="set", table="ingredient", path=("name",), value="b")
    assert 'name = "b"' in changed(text, "s", [change])


def test_what_only_the_text_has_is_named():
    text = HARD.replace("# unsalted", "\ncolour = 'pale'") + "\n[[photo]]\nof = 'x'\n"
    form = form_of(text, "s")
    assert form.ingredients[0].more == ("colour",)
    assert dict(form.elsewhere) == {"photo": 1}
    (beets,) = (c for c in form.others if c.value("name") == "beets")
    assert beets.more == ("alternative",)
    for whole in SHEETS:
        shown = form_of(whole, "s")
        told = (*shown.ingredients, *shown.stages, *shown.others)
        assert shown.elsewhere == ()
        assert [one.more for one in told if one.more] == []


def test_names_in_a_list_are_typed_with_commas_and_none_is_not_unknown():
    path = ("allergens",)
    milk = Change(act="set", table="ingredient", place=1, path=path, value="milk, celery")
    assert 'allergens = ["milk", "celery"]' in changed(HARD, "s", [milk])
    none = Change(act="set", table="ingredient", place=1, path=path, value="none")
    text = changed(HARD, "s", [milk, none])
    assert "allergens = []" in text
    assert {v.field.path: v.value for v in form_of(text, "s").entries[1].values}[path] == "none"
