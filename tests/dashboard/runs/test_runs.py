"""The list of runs, and the page of one run in words and tables, on real run files."""

from typing import Any
from urllib.parse import unquote

import pytest

from dashboard.app import build_app
from dashboard.links import Links
from dashboard.measures import Measures
from dashboard.runs import contents, listing, one, outcome, tables
from dashboard.runs.card import small_picture
from dashboard.shell import Place, page_for
from logger.control.client import GoneError
from logger.model.rows import GapRow
from tests.dashboard.made_runs import write_run
from tests.dashboard.pages import text_of


@pytest.fixture
def links(tmp_path, fake_client) -> Links:
    write_run(tmp_path, "20261125-0913-a3f2")
    return Links(tmp_path, fake_client)


def listed(links: Links, text: str = "", days: tuple = (None, None), **asked: Any) -> list[Any]:
    return listing.list_runs(links, text, asked, days, "dark")[0]


def test_a_run_is_listed_with_sheet_length_and_outcome(links):
    text = text_of(listed(links))
    assert "Smoked beet and barley roll" in text
    assert "Revision 4" in text
    assert "not said yet" in text


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
    answer = listing.list_runs(Links(tmp_path, fake_client), "", {}, (None, None), "dark")
    assert "bainlog demo" in answer[1]


def test_the_small_picture_is_an_image_without_scripts():
    address = small_picture({"fat": [[0.0, 20.0], [60.0, None], [120.0, 40.0]]}, "dark")
    drawn = unquote(address)
    assert drawn.startswith("data:image/svg+xml,<svg")
    assert drawn.count("M") == 2
    assert "script" not in drawn


def test_findings_dwells_and_notes_stand_in_tables(links):
    below = contents.draw_words(links, "20261125-0913-a3f2", Measures())[1]
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
    assert "can't be opened" in text_of(one.layout_for(links)(run_id))


@pytest.mark.parametrize(
    "path", ["/runs/../../etc/passwd", "/runs/%2e%2e", "/etc/passwd", "/runs/a/b"]
)
def test_a_path_that_is_no_page_is_not_looked_up(links, path):
    places = [Place("/runs/(?P<run_id>[0-9a-z-]+)", "", one.layout_for(links))]
    assert "no such page" in text_of(page_for(places, path))


def test_the_page_of_a_run_has_the_sheets_defects(links):
    page = one.layout_for(links)("20261125-0913-a3f2")
    assert "broken emulsion" in str(page)


def test_an_outcome_is_sent_to_the_recorder(links, fake_client):
    assert outcome.save_outcome(links, "r", "rejected", ["greasy"], "too warm") == "Saved."
    assert fake_client.sent == [
        ("outcome", {"run": "r", "outcome": "rejected", "defects": ["greasy"], "text": "too warm"})
    ]


def test_an_outcome_without_a_recorder_names_the_command(links, fake_client):
    fake_client.now = None
    with pytest.raises(GoneError):
        fake_client.send("ping")
    assert "bainlog outcome r accepted" in outcome.save_outcome(links, "r", "accepted", [], "")


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
