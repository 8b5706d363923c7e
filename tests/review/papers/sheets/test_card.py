"""A card read back gives its sheet: every amount, stage, target and caution, in order."""

import io
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from logger.model.errors import InputError
from logger.model.files import sheet_from_text
from logger.model.kinds.registry import KINDS
from logger.review.papers.sheets.card import MOST_JUDGED, MOST_TIMED, card_of
from logger.review.papers.sheets.cautions import LOCAL_CODES
from logger.review.papers.sheets.code import sheet_address
from logger.review.papers.sheets.sheet_pages import write_sheet
from logger.review.papers.wanted import wanted
from logger.words.digits import MINUS
from tests.all_kinds import sheet_of_all_kinds
from tests.model.recipe.texts import FRANK, SAUSAGE

ADDRESS = "http://192.168.1.20:8420/sheets?sheet=roll"
NUMBER = re.compile(rf"{MINUS}?[0-9.]+(?::[0-9]+)*")
MARKUP = '#eval("1 + 1") *x* _y_ $z$ @y <tag> -- [a] #(1)'


def pages_of(card, paper="a4"):
    file = io.BytesIO()
    write_sheet(card, file, "pdf", paper)
    return PdfReader(file).pages


def squeezed(text):
    return re.sub(r"[\s\u200b]+", "", text)


def in_order(parts, text):
    """Return the first part that does not follow the others in a text, or None."""
    at = 0
    for part in parts:
        found = text.find(squeezed(part), at)
        if found < 0:
            return part
        at = found + len(squeezed(part))
    return None


def number(text):
    """Read a number, or a clock in seconds."""
    seconds = 0.0
    for part in text.replace(MINUS, "-").split(":"):
        seconds = 60.0 * seconds + float(part)
    return seconds


def band_of(text):
    """Read the two ends of a target back; None for an open one."""
    ends = [number(found) for found in NUMBER.findall(text)]
    if text.startswith("at least"):
        return ends[0], None
    return (None, ends[0]) if text.startswith("at most") else (ends[0], ends[-1])


def assert_gives(card, sheet):
    """Read the amounts, stages and targets of a card back and compare them with the sheet's."""
    rows = [row for group in card.groups for row in group.rows]
    parts = [part for recipe in sheet.subrecipe for part in recipe.ingredient]
    phases = ("fat", "water", "filling", "coat", "bath", "rinse")
    for phase in phases:
        parts += [*sheet.of_phase(phase), *(one for one in sheet.to_taste if one.phase == phase)]
    assert [row.name for row in rows] == [part.name for part in parts]
    for row, part in zip(rows, parts, strict=True):
        if part.mass_g is None:
            assert (row.mass, row.tolerance) == ("", "to taste")
        else:
            mass, unit = row.mass.split()
            assert unit == "g"
            assert float(mass) == pytest.approx(part.mass_g, rel=5e-4)
        assert row.lot == part.lot
    for number_, (step, stage) in enumerate(zip(card.steps, sheet.stage, strict=True), start=1):
        asked = [one for one in wanted(stage) if one.band is not None]
        assert (step.number, step.title.startswith(stage.title)) == (str(number_), True)
        for blank, one in zip(step.blanks, asked, strict=True):
            for read, set_ in zip(
                band_of(blank.target), (one.band.low, one.band.high), strict=True
            ):
                assert read == (None if set_ is None else pytest.approx(set_, rel=5e-4))
        for text in (stage.text.strip(), *stage.equipment, stage.speed):
            assert text in " ".join(step.says)


LETTERS = st.characters(categories=["L", "N", "P", "S", "Zs"], include_characters="äöüßéλ")
NAMES = st.text(LETTERS, min_size=1, max_size=200).filter(str.strip)
MASSES = st.floats(1e-3, 1e5).map(lambda value: float(f"{value:.7g}"))


def quoted(text):
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


@settings(max_examples=25, deadline=None)
@given(
    amounts=st.lists(st.tuples(NAMES, MASSES), min_size=1, max_size=60, unique_by=lambda a: a[0]),
    stages=st.lists(st.tuples(NAMES, st.integers(0, 6000), st.integers(0, 9000)), max_size=25),
)
def test_a_card_read_back_gives_the_amounts_stages_and_targets_of_its_sheet(amounts, stages):
    text = '[sheet]\nname = "Grützwürstchen"\n'
    for place, (name, mass_g) in enumerate(amounts):
        phase = ("fat", "water", "filling", "coat")[place % 4]
        text += f'[[ingredient]]\nname = {quoted(name)}\nphase = "{phase}"\nmass = "{mass_g!r} g"\n'
    for place, (title, low_s, wide_s) in enumerate(stages):
        text += (
            f'[[stage]]\nid = "s{place}"\nkind = "work"\ntitle = {quoted(title)}\n'
            f'time = {{ low = "{low_s} s", high = "{low_s + wide_s} s" }}\n'
        )
    sheet = sheet_from_text(text, "t.toml")
    assert_gives(card_of(sheet, ()), sheet)


@pytest.mark.parametrize("text", [FRANK, SAUSAGE], ids=["frank", "sausage"])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_on_one_page_stands_all_that_the_card_says_in_its_order(text, paper):
    sheet = sheet_from_text(text, "t.toml")
    card = card_of(sheet, (), ADDRESS)
    assert_gives(card, sheet)
    (page,) = pages_of(card, paper)
    found = squeezed(page.extract_text())
    rows = [part for group in card.groups for row in group.rows for part in (row.name, row.mass)]
    assert in_order([card.name, *rows], found) is None
    steps = [part for step in card.steps for part in (f"{step.number} {step.title}", *step.says)]
    assert in_order([*steps, LOCAL_CODES, "page 1 of 1"], found) is None


def large(ingredients, stages, name):
    text = f'[sheet]\nname = {quoted(name)}\ndefects = ["ölig"]\n'
    for place in range(ingredients):
        text += (
            f'[[ingredient]]\nname = "Zutat {place}, gemahlene Süßkartoffel"\nphase = "filling"\n'
            f'mass = "{10.0 + 3.7 * place:.1f} g"\ntolerance = "2 %"\n'
        )
    for place in range(stages):
        text += (
            f'[[stage]]\nid = "s{place}"\nkind = "work"\ntitle = "Schritt {place} rühren"\n'
            'text = "Langsam rühren."\ntime = { low = "3 min", high = "6 min" }\n'
        )
    return sheet_from_text(text, "t.toml")


def test_what_has_no_room_on_one_page_goes_on_to_a_second_that_the_foot_counts():
    """60 ingredients and 25 stages, under a name of one word of 120 letters."""
    card = card_of(large(60, 25, "Überzug" + "q" * 113), (), ADDRESS)
    pages = [squeezed(page.extract_text()) for page in pages_of(card)]
    assert len(pages) == 2
    for place, page in enumerate(pages, start=1):
        assert f"page{place}of2" in page
    found = "".join(pages)
    rows = [part for row in card.groups[0].rows for part in (row.name, row.mass)]
    assert in_order(rows, found) is None
    steps = [f"{step.number} {step.title}" for step in card.steps]
    assert in_order([*steps, LOCAL_CODES], found) is None


def test_what_a_cook_typed_is_no_markup_on_a_card():
    sheet = large(2, 2, MARKUP)
    stages = [stage.model_copy(update={"title": MARKUP, "text": MARKUP}) for stage in sheet.stage]
    (page,) = pages_of(card_of(sheet.model_copy(update={"stage": stages}), ()))
    assert squeezed(page.extract_text()).count(squeezed(MARKUP)) >= 5


def test_a_card_warns_at_the_stage_and_defers_to_local_codes():
    sheet = sheet_of_all_kinds()
    card = card_of(sheet, ("Hot fat burns.",))
    for step, kind in zip(card.steps, KINDS, strict=True):
        assert not kind.hazard or kind.hazard in step.hazards
    assert "Calcium chloride" in card.steps[0].hazards[0]
    assert card.cautions[0] == "Hot fat burns."
    assert any("stings skin and eyes" in caution for caution in card.cautions)
    assert "local regulations" in card.cautions[-1]
    said = " ".join([*card.cautions, *(h for step in card.steps for h in step.hazards)])
    assert not re.search(r"\bsafe\b", said)


def test_frying_in_oil_is_warned_of_in_any_kind_of_stage():
    text = (
        '[sheet]\nname = "T"\n[[stage]]\nid = "fry"\nkind = "work"\n'
        'oil_temp = { high = "170 degC" }\n'
    )
    card = card_of(sheet_from_text(text, "t.toml"), ())
    assert card.steps[0].hazards == ["Hot oil: nothing wet or frozen into it"]
    assert any("wet skin in hot fat spits" in caution for caution in card.cautions)


def test_more_pieces_than_have_a_place_are_counted():
    sheet = sheet_of_all_kinds()
    many = [
        stage.model_copy(update={"pieces": 40}) if hasattr(stage, "pieces") else stage
        for stage in sheet.stage
    ]
    card = card_of(sheet.model_copy(update={"stage": many}), ())
    bath = next(step for step in card.steps if step.pieces)
    assert (len(bath.pieces), bath.more_pieces) == (MOST_TIMED, "16 more pieces: write on the back")
    assert (len(card.pieces), card.more_pieces[:2]) == (MOST_JUDGED, "28")


def test_the_code_opens_the_sheet_and_holds_no_token():
    assert (
        sheet_address("http://192.168.1.20:8420/", "Würstchen 2")
        == "http://192.168.1.20:8420/sheets?sheet=W%C3%BCrstchen%202"
    )
    with pytest.raises(InputError, match="carries more") as cause:
        sheet_address("http://192.168.1.20:8420/?token=beet-root", "roll")
    assert "beet-root" not in str(cause.value)
    with pytest.raises(InputError, match="no address"):
        sheet_address("192.168.1.20:8420", "roll")
    assert card_of(large(1, 1, "T"), ()).code == ""
    noted = card_of(large(1, 1, "T"), (), last="3 Sep 2025: Warm the water phase.")
    found = squeezed(pages_of(noted)[0].extract_text())
    assert squeezed("From the last run: 3 Sep 2025: Warm the water phase.") in found
    assert "<svg" in card_of(large(1, 1, "T"), (), ADDRESS).code
