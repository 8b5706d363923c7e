"""The list of runs, and the page of one run in words and tables, on real run files."""

import json
from typing import Any
from urllib.parse import unquote

import pytest

from dashboard.app import build_app
from dashboard.learn.portraits import Portraits
from dashboard.links import Links
from dashboard.measures import Measures
from dashboard.palette import GROUNDS
from dashboard.runs import contents, listing, one, outcome, tables
from dashboard.runs.card import changes, draw_card, small_picture
from dashboard.shell import Place, page_for
from logger.control.client import GoneError
from logger.model.errors import InputError
from logger.model.rows import GapRow, ResultRow
from logger.model.sheet import DeclaredResult
from logger.store.folder.entries import RunEntry
from tests.dashboard.made_runs import START_NS, write_run
from tests.dashboard.pages import text_of

RUN = "20261125-0913-a3f2"


@pytest.fixture
def links(tmp_path, fake_client) -> Links:
    write_run(tmp_path, "20261125-0913-a3f2")
    return Links(tmp_path, fake_client)


def listed(links: Links, text: str = "", days: tuple = (None, None), **asked: Any) -> list[Any]:
    """Return the lines that are listed, whatever group they are in."""
    since, until = days
    given = listing.Asked(text=text, filters=asked, since=since, until=until)
    return lines_of(listing.list_runs(links, given, "dark"))


def lines_of(found: listing.Listed) -> list[Any]:
    return [line for group in found.groups for line in group.children[1].children]


def saying(**said: Any) -> outcome.Saying:
    return outcome.Saying(**{"by_defect": {}, "results": {}, **said})


def test_a_run_is_listed_with_sheet_length_and_outcome(links):
    text = text_of(listed(links))
    assert "Wed 25 Nov" in text
    assert "2:00" in text
    assert "not judged yet" in text
    group = text_of(listing.list_runs(links, listing.Asked(), "dark").groups)
    assert "Smoked beet and barley roll 1 run · 1 not judged yet" in group


@pytest.mark.parametrize(
    ("asked", "count"),
    [
        ({"fat": "cocoa_butter"}, 1),
        ({"fat": "tallow"}, 0),
        ({"lot": "CB-0412"}, 1),
        ({"revision": "4"}, 1),
        ({"revision": "3"}, 0),
        ({"outcome": "rejected"}, 0),
    ],
)
def test_filters_narrow_the_list(links, asked, count):
    assert len(listed(links, **asked)) == count


def test_search_and_days_narrow_the_list(links):
    assert len(listed(links, "cb-0412 beet")) == 1
    assert len(listed(links, "tallow")) == 0
    assert len(listed(links, days=("2026-11-24", "2026-11-26"))) == 1
    assert len(listed(links, days=("2026-11-27", None))) == 0


def test_no_run_at_all_says_what_to_do(tmp_path, fake_client):
    answer = listing.list_runs(Links(tmp_path, fake_client), listing.Asked(), "dark")
    assert "bainlog demo" in text_of(answer.groups)


def entry(run_id: str = "r", **more: Any) -> RunEntry:
    trace = {"fat": [[0.0, 20.0], [60.0, None], [120.0, 40.0]]}
    ribbon = [[0.0, 60.0, 0], [60.0, 120.0, 1]]
    given = {"trace_json": json.dumps(trace), "ribbon_json": json.dumps(ribbon)}
    return RunEntry(run_id=run_id, started_utc_ns=START_NS, **(given | more))


def test_the_small_picture_is_an_image_without_scripts():
    address = small_picture(entry(), "dark")
    drawn = unquote(address)
    assert drawn.startswith("data:image/svg+xml,<svg")
    assert drawn.count("M") == 2
    assert "script" not in drawn
    assert drawn.count(GROUNDS["dark"].stop) == 1
    assert "<path" not in unquote(small_picture(entry(trace_json="{}"), "dark"))


def test_a_line_says_what_is_new_since_the_run_before():
    before = entry(lots=("A", "B"), revision=3, sheet="roll")
    assert changes(entry(lots=("A", "C"), revision=4, sheet="roll"), before) == (
        "new lot C · revision 4"
    )
    assert changes(before, None) == changes(before, before) == ""


@pytest.mark.parametrize(
    ("outcome", "way"), [("rejected", "/why/r"), ("accepted", "/sheets?run=r"), (None, "run-way")]
)
def test_a_line_leads_on_by_how_it_came_out(outcome, way):
    drawn = draw_card(entry(outcome=outcome, defects=("greasy", "too soft"), missed=2), "dark")
    assert way in str(drawn)
    assert "2 not met" in text_of(drawn)
    assert ("greasy too soft" in text_of(drawn)) == (outcome == "rejected")


class FakeCatalog:
    def __init__(self, entries: list[RunEntry]) -> None:
        self.entries = entries

    def catalog(self) -> "FakeCatalog":
        return self

    def runs(self) -> list[RunEntry]:
        return self.entries


def test_chips_count_and_choose_and_a_thousand_runs_come_a_hundred_a_page():
    sorts = [("accepted", ()), ("rejected", ("greasy",)), (None, ())]
    entries = [
        entry(f"r{k}", product=f"roll {k % 2}", outcome=sorts[k % 3][0], defects=sorts[k % 3][1])
        for k in range(1000)
    ]
    links: Any = FakeCatalog(entries)
    found = listing.list_runs(links, listing.Asked(page=3), "dark")
    assert len(lines_of(found)) == listing.MOST == 100
    assert (found.pages, found.says) == (10, "1000 runs, page 3 of 10")
    assert [text_of(chip) for chip in found.chips] == [
        "All 1000", "Accepted 334", "Rejected 333", "Not judged yet 333", "greasy 333",
    ]  # fmt: skip
    assert "roll 0 500 runs" in text_of(found.groups)
    last = listing.list_runs(links, listing.Asked(chip="came:rejected", page=9), "dark")
    assert (last.count, last.pages, len(lines_of(last))) == (333, 4, 33)
    assert last.says == "333 of 1000 runs, page 4 of 4"
    assert listing.list_runs(links, listing.Asked(chip="came:"), "dark").count == 333
    assert listing.list_runs(links, listing.Asked(chip="defect:greasy"), "dark").count == 333
    days = listing.list_runs(links, listing.Asked(by="day"), "dark")
    assert len(days.groups) == 1
    assert text_of(days.groups).startswith("Wed 25 Nov 2026 1000 runs")


def test_findings_dwells_and_notes_stand_in_tables(links):
    below = contents.draw_words(links, "20261125-0913-a3f2", Measures(), {})[1]
    text = text_of([below.findings, below.pieces, below.tables])
    assert "Warm both" in text
    assert "not met" in text
    assert "20.1 ± 0.6 °C" in text
    assert "44 to 58 °C" in text
    assert "not measured" in text
    assert "Dwell verdict" in text
    assert "97 %" not in text  # the share of the skin without its uncertainty
    assert "<b>hot</b>" in text


def test_what_was_said_of_single_pieces_stands_in_a_table(links):
    text = text_of(tables.draw_pieces_came({5: ("skin burst", "greasy"), 3: (), 4: ("greasy",)}))
    assert "How pieces came out" in text
    assert text.index("no defect") < text.index("skin burst, greasy")
    assert tables.draw_pieces_came({}) is None


def test_thousands_of_gaps_do_not_make_thousands_of_rows():
    gaps = [
        GapRow(channel="fat", from_s=float(k), to_s=k + 0.5 + 0.001 * k, why="no readings")
        for k in range(3000)
    ]
    text = text_of(tables.draw_gaps(gaps))
    assert text.count("no readings") == tables.MOST_GAPS
    assert "3.5 s" in text
    assert "2985 shorter gaps" in text


@pytest.mark.parametrize(
    "run_id", ["20261125-0913-ffff", "nonsense", "..", "20261125-0913-a3f2.run"]
)
def test_a_run_that_is_not_there_says_so(links, run_id):
    assert "can't be opened" in text_of(one.layout_for(links, Portraits(links))(run_id))


@pytest.mark.parametrize(
    "path", ["/runs/../../etc/passwd", "/runs/%2e%2e", "/etc/passwd", "/runs/a/b"]
)
def test_a_path_that_is_no_page_is_not_looked_up(links, path):
    places = [Place("/runs/(?P<run_id>[0-9a-z-]+)", "", one.layout_for(links, Portraits(links)))]
    assert "no such page" in text_of(page_for(places, path))


def test_the_page_of_a_run_has_the_sheets_defects(links):
    page = one.layout_for(links, Portraits(links))("20261125-0913-a3f2")
    assert "broken emulsion" in str(page)


def test_an_outcome_is_sent_to_the_recorder(links, fake_client):
    said = saying(came="rejected", defects=("greasy", "fizzy"), because="fat_too_cool",
                  by_defect={"fizzy": ["7", "3"], "greasy": []}, text="too warm")  # fmt: skip
    assert outcome.save_outcome(links, RUN, said) == "Saved."
    assert fake_client.sent == [
        ("outcome", {"run": RUN, "outcome": "rejected", "defects": ["greasy", "fizzy"],
                     "text": "too warm", "new_defects": ["fizzy"], "because": "fat_too_cool",
                     "pieces": [{"piece": 3, "defects": ["fizzy"]},
                                {"piece": 7, "defects": ["fizzy"]}]})
    ]  # fmt: skip


def test_results_are_sent_typed_and_only_where_they_are_new():
    declared = [DeclaredResult(name="cook loss", unit="%"), DeclaredResult(name="pH"),
                DeclaredResult(name="bite", by_taster=True)]  # fmt: skip
    known = [ResultRow(name="pH", value=6.1)]
    typed = {"cook loss": " 12.4", "pH": "6.1", "bite": "7 by Ada"}
    assert outcome.typed(typed, declared, known) == [
        ResultRow(name="cook loss", value=12.4, unit="%"), ResultRow(name="bite", value=7, by="Ada")
    ]  # fmt: skip
    with pytest.raises(InputError, match="Cook loss"):
        outcome.typed({"cook loss": "much"}, declared, [])


def test_a_cause_and_results_are_shown_in_words():
    row = ResultRow(name="cook loss", value=12.4, unit="%")
    words = text_of(tables.draw_measured([row], "the coat was too thick"))
    assert "Cause that was found: the coat was too thick." in words
    assert "Cook loss" in words
    assert "12.4 %" in words
    assert text_of(tables.draw_measured([], "")) == ""


def test_an_outcome_without_a_recorder_names_the_command(links, fake_client):
    fake_client.now = None
    with pytest.raises(GoneError):
        fake_client.send("ping")
    said = outcome.save_outcome(links, RUN, saying(came="accepted"))
    assert f"bainlog outcome {RUN} accepted" in said


def test_an_empty_note_is_not_sent(links, fake_client):
    assert outcome.save_note(links, "r", "  ") == "The note is empty."
    assert fake_client.sent == []


def test_opening_a_run_by_address_works_through_the_app(links, tmp_path, fake_client):
    app = build_app(tmp_path, links=Links(tmp_path, fake_client))
    client = app.server.test_client()
    asked = {
        "output": "page.children",
        "outputs": {"id": "page", "property": "children"},
        "inputs": [{"id": "where", "property": "pathname", "value": "/runs/20261125-0913-a3f2"}],
        "changedPropIds": ["where.pathname"],
    }
    answer = client.post("/_dash-update-component", json=asked, headers={"Host": "127.0.0.1"})
    assert answer.status_code == 200
    assert "Smoked beet and barley roll" in answer.get_data(as_text=True)
