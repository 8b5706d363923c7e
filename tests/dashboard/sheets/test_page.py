"""The page of sheets: what is wrong, where a text comes from, what saving tells."""

import io

import pytest
from pypdf import PdfReader

from dashboard.app import build_app
from dashboard.learn.portraits import Portraits
from dashboard.links import Links
from dashboard.measures import Measures
from dashboard.sheets import acts as sheet_acts
from dashboard.sheets import origins, outlook, papers
from dashboard.sheets import page as sheets
from dashboard.sheets.acts import Opened
from logger.model.errors import InputError
from logger.model.files import sheet_from_text
from logger.model.recipe.checked import sheet_wrongs
from logger.review.learn.sheet_text import sheet_as_toml
from logger.review.learn.sheets import template
from logger.review.papers.sheets.last import last_of, last_run_text
from logger.review.plan.known import known_fats
from logger.review.plan.planned import Prediction
from logger.review.why.explanation import capital
from tests.cli.inside import inside

TEXT = '[sheet]\nname = "Smoked beet and barley roll"\nrevision = 4\n'
OPENED = Opened(name="beet roll", base=4)
FATS = known_fats(None)


@pytest.fixture
def links(tmp_path, fake_client) -> Links:
    return Links(tmp_path, fake_client)


def planned(text: str) -> str:
    return str(outlook.draw_plan(outlook.look_at(text, FATS, {}), Measures()))


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ('mass = "180 g"', 'mass = "180"', ("'180' has no unit", "write for example '180 g'")),
        (
            'mass = "180 g"',
            'mass = "180 s"',
            ("'180 s' is not in a unit that fits", "write for example '180 g'"),
        ),
        ('kind = "heat"', 'kind = "heatt"', ("kind 'heatt'", "did you mean 'heat'?")),
    ],
)
def test_what_stands_there_and_what_would_do_are_told_apart(before, after, said):
    (wrong,) = sheet_wrongs(template().replace(before, after, 1), "s")
    found, expected = outlook.found_and_expected(wrong)
    assert found == said[0]
    assert expected.startswith(said[1])


def test_a_text_that_does_not_read_has_no_plan_and_names_the_line():
    bad = template().replace('mass = "180 g"', 'mass = "180"', 1)
    line = bad.splitlines().index('mass = "180"') + 1
    drawn = str(outlook.draw_wrongs(outlook.look_at(bad, FATS, {})))
    assert f"Line {line}" in drawn
    assert "ingredient[1].mass" in drawn
    assert "once the text is valid" in planned(bad)
    assert outlook.draw_wrongs(outlook.look_at(template(), FATS, {})) == []
    assert "mixing temperature" in planned(template())


def test_a_range_to_expect_has_no_false_digits():
    fat = Prediction(
        name="fat_held_percent", label="fat in the batch", value=None, unit="%", says="",
        source="", low=18.3276, high=99.626,
    )  # fmt: skip
    assert outlook.amount_text(fat, Measures()) == "18.3 to 99.6 %"


def test_a_name_that_stands_for_nothing_is_told_in_the_editor():
    bad = template().replace('fat = "', 'fat = "un', 1)
    drawn = str(outlook.draw_wrongs(outlook.look_at(bad, FATS, {})))
    assert "One thing to correct" in drawn
    assert "ingredient[1].fat" in drawn


def test_a_long_list_of_what_is_wrong_says_how_many_more_there_are():
    many = "".join(f'[[ingredient]]\nname = "a{n}"\nmass = "1 g"\n' for n in range(15))
    drawn = str(outlook.draw_wrongs(outlook.look_at(f'[sheet]\nname = "x"\n{many}', FATS, {})))
    assert "15 things to correct" in drawn
    assert f"And {15 - outlook.MOST_WRONGS} more." in drawn


def test_a_text_of_any_length_is_not_read_to_its_end():
    assert "at most" in str(
        outlook.draw_wrongs(outlook.look_at("x" * (outlook.MOST_TEXT + 1), FATS, {}))
    )
    assert not sheet_acts.reads(TEXT + "#" * outlook.MOST_TEXT)


def test_what_a_change_changes_is_listed(links):
    links.folder().save_sheet("beet roll", template())
    changed = template().replace('mass = "180 g"', 'mass = "190 g"', 1)
    drawn = str(sheets.changes(links, OPENED, "now", changed))
    assert "cocoa butter: mass" in drawn
    assert "190 g" in drawn
    assert "no longer there" in str(sheets.changes(links, OPENED, "3", changed))


def test_a_sheet_is_saved_by_the_recorder_from_the_revision_that_was_opened(links, fake_client):
    usual = fake_client.send
    saved = {"revision": 5, "text": "as saved", "changed": True}
    fake_client.send = lambda kind, **data: usual(kind, **data) | saved
    said, now, text = sheet_acts.save(links, TEXT, "beet roll", OPENED)
    assert fake_client.sent == [("save_sheet", {"name": "beet roll", "sheet": TEXT, "base": 4})]
    assert said.startswith("Saved as revision 5. Revision 4 is kept.")
    assert "keeps the sheet it started with" in said  # a batch is under way here
    assert (now, text) == (Opened(name="beet roll", base=5), "as saved")
    sheet_acts.save(links, TEXT, "other", OPENED)
    assert fake_client.sent[-1][1]["base"] is None


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("CON", "CON sheet"),
        ("lpt1", "lpt1 sheet"),
        ("Käse/Brät: fein?", "Kase-Brat- fein"),
        ("Grandma's roll.", "Grandmas roll"),
        ("../../bench", "bench"),
        ("寿司", "sheet"),
        ("beet roll", "beet roll"),
    ],
)
def test_a_sheet_of_any_name_is_saved_under_one_that_every_disk_takes(
    links, fake_client, typed, name
):
    usual = fake_client.send
    saved = {"revision": 1, "text": TEXT, "changed": True}
    fake_client.send = lambda kind, **data: usual(kind, **data) | saved
    found = sheet_acts.save(links, TEXT, typed, Opened())
    assert fake_client.sent[-1][1]["name"] == name
    assert found.opened.name == name
    assert (f"called “{name}”" in found.says) == (typed != name)
    assert links.folder().sheet_path(name).name == f"{name}.sheet.toml"
    with pytest.raises(InputError):
        links.folder().sheet_path("Con")


def test_what_is_not_saved_says_why_and_changes_nothing(links, fake_client):
    assert sheet_acts.save(links, TEXT, "", OPENED)[0] == "Not saved: give it a name first."
    assert "is not valid yet" in sheet_acts.save(links, "nonsense", "x", OPENED)[0]
    assert fake_client.sent == []
    assert "no stages" in sheet_acts.start_with(links, TEXT)
    assert fake_client.sent == []
    fake_client.refuses = "sheet 'x': there is one already; open it, or give another name"
    assert "there is one already" in sheet_acts.save(links, TEXT, "x", Opened())[0]
    fake_client.now = None
    assert "bainlog start" in sheet_acts.save(links, TEXT, "x", Opened())[0]
    assert "bainlog start" in sheet_acts.start_with(links, template())


def test_what_nobody_saved_is_noticed_before_another_text_is_opened(links):
    links.folder().save_sheet("beet roll", TEXT)
    assert not sheet_acts.typed(links, TEXT, OPENED)
    assert sheet_acts.typed(links, TEXT + "# mine\n", OPENED)
    assert not sheet_acts.typed(links, template(), Opened())
    assert sheet_acts.typed(links, TEXT, Opened(name="gone", base=1))


@pytest.mark.parametrize("chosen", ["sheet:../bench", "sheet:none", "run:nonsense", "good:none"])
def test_what_cannot_be_opened_says_so_and_leaves_the_text(links, chosen):
    found, says = sheets.open_chosen(links, Portraits(links), chosen)
    assert found is None
    assert says.startswith("Not opened.")


@pytest.mark.slow
def test_a_sheet_is_begun_from_one_run_or_from_all_good_ones(shelf, fake_client):
    links = Links(shelf.folder, fake_client)
    portraits = Portraits(links)
    offered = {i["value"]: i["label"] for g in origins.choices(links) for i in g["items"]}
    assert f"run:{shelf.bad}" not in offered
    (good,) = [value for value in offered if value.startswith("good:")]
    assert offered[good].startswith("What worked in 4 good batches")
    for chosen in (good, f"run:{shelf.good[0]}"):
        found = origins.opened(links, portraits, chosen)
        before = portraits.of(shelf.good[0]).sheet.sheet.revision
        assert sheet_from_text(found.text, "s").sheet.revision == before + 1
        assert (found.name, found.base) == ("", None)
        assert found.says.startswith("Targets from")
    assert "was rejected" in sheets.open_chosen(links, portraits, f"run:{shelf.bad}")[1]


@pytest.mark.slow
def test_the_card_says_what_to_do_unlike_in_the_last_run(shelf, fake_client):
    links = Links(shelf.folder, fake_client)
    portraits = Portraits(links)
    bad, why = portraits.of(shelf.bad), portraits.why(shelf.bad)
    told = last_run_text("2025-09-03T09:14:00+02:00", bad, why)
    assert told == f"3 Sep 2025: {capital(why.causes[0].mechanism.next_time)}."
    good = last_run_text("2025-09-03", portraits.of(shelf.good[0]), None)
    assert good.startswith("3 Sep 2025: No target missed")


@pytest.mark.slow
def test_the_card_of_a_command_and_of_the_page_tell_of_the_last_run(shelf, fake_client, tmp_path):
    links = Links(shelf.folder, fake_client)
    portraits = Portraits(links)
    bad = portraits.of(shelf.bad)
    (tmp_path / "roll.sheet.toml").write_text(sheet_as_toml(bad.sheet))
    last = links.catalog().runs(product=bad.product, status="ended")[0]
    told = last_of(last.run_id, last.started, portraits.of, portraits.why)
    assert told.endswith(last_run_text("", portraits.of(last.run_id), None))
    assert last_of(last.run_id, "", lambda _: None, portraits.why) == ""
    words = ("sheet", "card", "roll.sheet.toml", "-o", "card.pdf", "--no-code", "--data")
    done = inside(tmp_path, *words, shelf.folder)
    assert not done.stderr
    page = PdfReader(tmp_path / "card.pdf").pages[0].extract_text()
    assert f"From the last run: {told}" in " ".join(page.split())
    assert not inside(tmp_path, *words, tmp_path).stderr
    page = PdfReader(tmp_path / "card.pdf").pages[0].extract_text()
    assert "From the last run" not in page


HERE = {"Host": "127.0.0.1:8420"}
TOKEN = "beet-root"  # noqa: S105 - of this test alone


def test_a_saved_sheet_is_printed_on_paper_of_either_size(links, tmp_path):
    links.folder().save_sheet("beet roll", template())
    drawn = str(papers.draw_papers("beet roll"))
    assert "/sheets/beet%20roll/card?paper=letter" in drawn
    assert "/sheets/" not in str(papers.draw_papers(""))
    client = build_app(tmp_path, links=links).server.test_client()
    for path in ("card?paper=letter", "recipe"):
        answer = client.get(f"/sheets/beet roll/{path}", headers=HERE)
        assert answer.mimetype == "application/pdf"
        assert answer.data.startswith(b"%PDF")
        assert 'filename="beet roll-' in answer.headers["Content-Disposition"]
    text = PdfReader(io.BytesIO(client.get("/sheets/beet roll/card", headers=HERE).data))
    assert "Opens this sheet" not in text.pages[0].extract_text()
    for path in ("no such/card", "beet roll/card?paper=a3"):
        assert client.get(f"/sheets/{path}", headers=HERE).status_code == 404


def test_on_the_local_network_the_card_has_a_code_with_its_address_and_no_token(links, tmp_path):
    links.folder().save_sheet("roll", template())
    client = build_app(tmp_path, links=links, lan=True, token=TOKEN).server.test_client()
    lan = {"Host": "192.168.1.7:8420"}
    client.get(f"/?token={TOKEN}", headers=lan)
    pdf = client.get("/sheets/roll/card", headers=lan).data
    text = PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    assert "192.168.1.7:8420; the page asks" in " ".join(text.split())
    assert TOKEN not in text
