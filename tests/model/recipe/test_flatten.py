"""Ingredients as a cook writes them come to one list of names and masses, and none is lost."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.model.errors import InputError
from logger.model.files import sheet_from_text
from logger.model.sheet import Sheet
from logger.review.learn.sheet_text import sheet_as_toml
from logger.virtual.batch.scenario import plain_sheet
from tests.model.recipe.texts import FRANK, SAUSAGE

HEAD = '[sheet]\nname = "T"\n'


def masses(text):
    return {one.name: one.mass_g for one in sheet_from_text(text, "t.toml").ingredient}


def ingredient(name, amount, phase="filling", more=""):
    return f'[[ingredient]]\nname = "{name}"\nphase = "{phase}"\namount = "{amount}"\n{more}\n'


def subrecipe(name, parts, more=""):
    inside = "".join(
        f'[[subrecipe.ingredient]]\nname = "{part}"\namount = "{amount}"\n{extra}\n'
        for part, amount, extra in parts
    )
    return f'[[subrecipe]]\nname = "{name}"\n{more}\n{inside}'


def refused(text):
    with pytest.raises(InputError) as cause:
        sheet_from_text(text, "t.toml")
    return str(cause.value)


def test_a_frank_in_percents_of_its_batch_comes_to_the_batch():
    """1.5 % is the middle of a range, which becomes its tolerance."""
    sheet = sheet_from_text(FRANK, "frank.sheet.toml")
    assert {i.name: i.mass_g for i in sheet.ingredient} == {
        "coconut fat": 120.0, "ice water": 525.0, "methylcellulose": 22.0, "wheat gluten": 33.0,
        "salt": 15.0, "smoke essence": pytest.approx(5.2), "soy granules": 279.8,
    }  # fmt: skip
    assert next(i for i in sheet.ingredient if i.name == "salt").tolerance_percent == pytest.approx(
        100.0 * 0.1 / 1.5
    )
    assert [one.name for one in sheet.to_taste] == ["white pepper"]


def test_a_sausage_has_pounds_bakers_percents_a_gel_of_its_parts_and_a_stock_made_ahead():
    """2 lb and 12 oz, at 453.59237 g and 28.349523125 g: NIST Handbook 44 (2024), Appendix C."""
    sheet = sheet_from_text(SAUSAGE, "sausage.sheet.toml")
    found = {i.name: i.mass_g for i in sheet.ingredient}
    meat_g = 2 * 453.59237 + 12 * 28.349523125
    assert found["salt (for the meat)"] == pytest.approx(0.016 * meat_g)
    assert found["salt (at the end)"] == pytest.approx(0.003 * meat_g)
    assert (found["rapeseed oil"], found["sunflower wax"]) == (282.0, 13.5)
    assert found["vegetable stock"] == pytest.approx(180 * 1.01)
    (stock,) = sheet.subrecipe
    assert stock.yield_g == pytest.approx(180 * 1.01)
    assert stock.ingredient[0].mass_g == pytest.approx(1000 / 700 * 180 * 1.01)
    filling_g = sum(i.mass_g for i in sheet.of_phase("filling"))
    assert found["rusk"] == pytest.approx(0.04 * filling_g)


@pytest.mark.parametrize("text", [FRANK, SAUSAGE, plain_sheet(False)], ids=["frank", "coil", "old"])
def test_a_flat_sheet_reads_back_as_it_is_from_its_text_and_its_frozen_copy(text):
    sheet = sheet_from_text(text, "t.toml")
    assert sheet_from_text(sheet_as_toml(sheet), "flat.toml") == sheet
    assert Sheet.model_validate_json(sheet.model_dump_json(by_alias=True)) == sheet


def test_a_sheet_that_says_nothing_new_keeps_the_frozen_copy_it_always_had():
    copy = sheet_from_text(HEAD + ingredient("a", "2 g"), "t.toml").model_dump_json()
    assert copy.endswith(
        '"ingredient":[{"name":"a","phase":"filling","mass_g":2.0,"tolerance_percent":null,'
        '"substance":null,"fat":null,"salt":null,"purity_percent":100.0,"lot":"","price":null}],'
        '"vessel":[],"stage":[],"result":[]}'
    )


def test_stages_speak_of_what_is_weighed():
    sheet = sheet_from_text(FRANK, "frank.sheet.toml")
    assert sheet.stage[0].ingredients[2:4] == ["methylcellulose", "wheat gluten"]
    both = (
        HEAD
        + ingredient("salt", "1 g", more='part = "early"')
        + ingredient("salt", "2 g", "water", 'part = "late"')
    )
    weigh = '[[stage]]\nid = "w"\nkind = "weigh"\ningredients = ["salt"]\n'
    names = sheet_from_text(both + weigh, "t.toml").stage[0].ingredients
    assert names == ["salt (early)", "salt (late)"]


PHASES = st.sampled_from(["fat", "water", "filling"])


@settings(max_examples=20, deadline=None)
@given(
    data=st.data(),
    sizes=st.lists(st.integers(1, 400), min_size=1, max_size=5),
    inner=st.lists(st.integers(1, 60), min_size=1, max_size=4),
)
def test_flattening_keeps_the_mass_and_the_percents(data, sizes, inner):
    """Masses, percents of the batch, and a sub-recipe in percents that sum to 100."""
    batch = [data.draw(st.integers(1, 70 // len(sizes))) for _ in sizes]
    whole = sum(inner)
    shares = [
        (f"p{n}", f"{100 * one / whole:.6f} % of subrecipe", "") for n, one in enumerate(inner)
    ]
    text = HEAD + "".join(
        ingredient(f"m{n}", f"{size} g", data.draw(PHASES))
        + ingredient(f"b{n}", f"{percent} % of batch", data.draw(PHASES))
        for n, (size, percent) in enumerate(zip(sizes, batch, strict=True))
    )
    text += ingredient("made", "50 g", more='subrecipe = "made"') + subrecipe("made", shares)
    found = masses(text)
    total_g = sum(found.values())
    assert sum(found[f"m{n}"] for n in range(len(sizes))) == sum(sizes)
    assert sum(found[f"p{n}"] for n in range(len(inner))) == pytest.approx(50.0)
    for n, percent in enumerate(batch):
        assert 100.0 * found[f"b{n}"] / total_g == pytest.approx(percent)


@settings(max_examples=12, deadline=None)
@given(length=st.integers(1, 12), start=st.integers(0, 11))
def test_a_circle_of_sub_recipes_is_refused_with_its_names(length, start):
    names = [f"s{n}" for n in range(length)]
    ring = "".join(
        subrecipe(name, [("x", "5 g", ""), ("y", "5 g", f'subrecipe = "{names[n - length + 1]}"')])
        for n, name in enumerate(names)
    )
    used = ingredient("made", "50 g", more=f'subrecipe = "{names[start % length]}"')
    said = refused(HEAD + used + ring)
    assert "a circle: s0 → " in said
    assert all(name in said for name in names)


def test_percents_that_are_rounded_come_to_the_batch():
    thirds = "".join(ingredient(name, "33.3 % of batch") for name in "abc")
    assert sum(masses('[sheet]\nname = "T"\nbatch = "900 g"\n' + thirds).values()) == pytest.approx(
        900.0
    )


def test_a_deep_chain_of_sub_recipes_comes_to_its_last():
    chain = "".join(
        subrecipe(f"s{n}", [("x", "1 g", f'subrecipe = "s{n + 1}"' if n < 99 else "")])
        for n in range(100)
    )
    assert masses(HEAD + ingredient("made", "50 g", more='subrecipe = "s0"') + chain) == {"x": 50.0}


@pytest.mark.parametrize(
    ("good", "bad", "says"),
    [
        ('"2 lb"', '"2,5 lb"', "ingredient[1].amount: '2,5 lb' has a decimal comma; write '2.5"),
        ('"2 lb"', '"2 pfund"', "'2 pfund' is not in a unit that fits; write for example '180 g'"),
        ('density = "1.01 g/ml"', "", "at line 44: ingredient[4].amount: '180 ml' is a volume and"),
        ('"at the end"', '"for the meat"', "ingredient[6].name: 'salt' is used twice; give each"),
        ('"94 % of', '"92 % of', "line 94: subrecipe[1].ingredient[2].amount: the percents of the "
         "sub-recipe sum to 98 %; add 2 %"),
        ('94 % of subrecipe', "94 % of batch", "in a sub-recipe; write '94 % of subrecipe', or a"),
        ('"4 % of phase"', '"4 %"', "'4 %' does not say of what; write '4 % of batch', '4 % of ph"),
        ('"4 % of phase"', '"6 to 4 g"', "'6 to 4 g' goes down; write the smaller end first"),
        ('"soybeans"', '"soya"', "no allergen 'soya'; did you mean 'soybeans'? write one of"),
        ('"2026-12-04"', '"4.12.2026"', "is no date; write year, month, day: 2026-12-04"),
        ('"700 g"', '"7 kg"', "7000 g, more than the 1150 g that go in; add what is missing"),
        ('subrecipe = "oleogel"', 'subrecipe = "olegel"', "no sub-recipe 'olegel'; write one of"),
        ('amount = "300 g"', 'amount = "300 g"\nlot = "O-1"', "ingredient[3].lot: 'oleogel' "),
        ('yield = "1.95 kg"', 'batch = "1.95 kg"', "line 9: sheet.batch: 1950 g, but the"),
        ('amount = "300 g"', "", "line 34: ingredient[3].mass: missing; write how much"),
        ('"12 oz"', '"12 oz"\nmass = "1 g"', "ingredient[2].amount: mass and amount; keep one"),
        ("base = true", "", "nothing is the base; write base = true at what is 100 %"),
        ('fat_content = "18 %"', 'fat_content = "58 %"', "are more than all; correct one of them"),
    ],
)  # fmt: skip
def test_what_a_cook_writes_wrong_is_shown_in_its_right_form(good, bad, says):
    assert good in SAUSAGE
    assert says in refused(SAUSAGE.replace(good, bad, 2 if bad == "" else 1))


def test_percents_of_a_batch_without_a_mass_ask_for_one():
    text = HEAD + ingredient("a", "60 % of batch") + ingredient("b", "40 % of batch")
    assert 'nothing says how much the batch is; write batch = "1 kg" in [sheet]' in refused(text)


def test_percents_that_leave_nothing_are_refused():
    text = HEAD + ingredient("a", "100 % of batch") + ingredient("b", "5 g")
    assert "the percents of the batch sum to 100 %; leave some of it for b" in refused(text)


def test_one_name_from_two_sub_recipes_and_the_batch_has_three_names():
    text = HEAD + ingredient("oil", "10 g") + ingredient("a", "10 g", more='subrecipe = "gel"')
    text += ingredient("b", "10 g", "fat", 'subrecipe = "gel"')
    found = masses(text + subrecipe("gel", [("oil", "9 g", ""), ("wax", "1 g", "")]))
    assert found == {
        "oil": 10.0, "oil (gel, filling)": 9.0, "wax (gel, filling)": 1.0, "oil (gel, fat)": 9.0,
        "wax (gel, fat)": 1.0,
    }  # fmt: skip


@pytest.mark.parametrize(("ahead", "most"), [("", 1000), ("ahead = true", 100)])
def test_sub_recipes_that_double_again_and_again_are_refused_at_once(ahead, most):
    """Thirty levels that each use the next twice would come to 2^30 ingredients."""
    twice = "".join(
        subrecipe(
            f"s{n}",
            [(part, "1 g", f'subrecipe = "s{n + 1}"\npart = "{part}"' if n < 29 else "")
             for part in "ab"],
            ahead if n == 0 else "",
        )
        for n in range(30)
    )  # fmt: skip
    text = HEAD + ingredient("made", "50 g", more='subrecipe = "s0"') + twice
    assert f"more than {most} ingredients to weigh; write ahead = true" in refused(text)


@pytest.mark.parametrize("amounts", [("1e-300 g", "1e300 g"), ("1e-320 % of batch", "5 g")])
def test_amounts_that_no_scale_weighs_are_refused(amounts):
    few, many = amounts
    text = subrecipe("s", [("a", few.replace("batch", "subrecipe"), ""), ("b", many, "")])
    assert refused(HEAD + ingredient("m", "1e-20 g", more='subrecipe = "s"') + text)
