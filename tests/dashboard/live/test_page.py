"""The page at the bench as a whole: one answer a beat, commands, and the app around it."""

import json
import math
import socket

import numpy as np
import pytest
from dash import dcc, html

from dashboard.app import build_app
from dashboard.doors.address import bind
from dashboard.doors.payloads import BEAT
from dashboard.links import Links
from dashboard.live import page
from dashboard.live.asking import start_form
from dashboard.live.commands import Command, carry_out
from dashboard.live.dialogs import in_ounces
from dashboard.live.drawing.view import Ask
from dashboard.live.feed import Feed
from dashboard.live.page import Known
from dashboard.markup import json_of
from dashboard.measures import Measures
from dashboard.stores import Choices
from logger.model.errors import InputError, StoreError
from logger.review.learn.sheets import template
from tests.dashboard.made_state import FakeClient
from tests.dashboard.pages import text_of


@pytest.fixture
def links(tmp_path, fake_client) -> Links:
    return Links(tmp_path, fake_client)


@pytest.fixture
def feed(fake_run) -> Feed:
    return Feed(lambda run_id: fake_run)


def test_a_part_that_has_not_changed_is_not_sent_again(links, feed):
    first = page.answer(links, feed, Ask(n=1), Known(), Choices())
    again = page.answer(links, feed, Ask(n=2), first.known, Choices())
    assert "now-sentence" in first.parts
    assert again.parts == {}


def test_only_the_part_that_changed_is_sent(links, feed, fake_client):
    first = page.answer(links, feed, Ask(n=1), Known(), Choices())
    fake_client.now.view.say = "Pour the fat now."
    again = page.answer(links, feed, Ask(n=2), first.known, Choices())
    assert list(again.parts) == ["now-sentence"]


def test_the_table_of_the_sensors_has_the_number_of_the_tile_while_it_is_unfolded(
    links, feed, fake_client
):
    first = page.answer(links, feed, Ask(n=1, sensors=True), Known(), Choices())
    fat = next(c for c in fake_client.now.channels if c.id == "fat")
    fake_client.now.view.numbers[0].value = fat.value = 47.83
    now = page.answer(links, feed, Ask(n=2, sensors=True), first.known, Choices())
    tile, table = (text_of(now.parts[part]) for part in ("now-numbers", "now-health"))
    assert "Fat 47.8" in table
    assert "47.8" in tile
    folded = page.answer(links, feed, Ask(n=2), first.known, Choices())
    assert "now-health" not in folded.parts


def test_the_answer_tells_the_browser_when_each_channel_was_last_seen(links, feed):
    told = page.answer(links, feed, Ask(n=7), Known(), Choices()).told
    assert told.n == 7
    assert told.seen["fat"] == 99.9
    assert told.t_s == 100.0


def test_a_recorder_that_is_gone_is_told_and_nothing_fails(links, feed, fake_client):
    before = page.answer(links, feed, Ask(n=1), Known(), Choices())
    fake_client.now = None
    answer = page.answer(links, feed, Ask(n=2), before.known, Choices())
    assert answer.told.gone is True
    assert answer.figure is None


def test_a_run_file_that_does_not_open_leaves_the_rest_of_the_page(links):
    def broken(run_id: str):
        raise StoreError("run file is missing")

    answer = page.answer(links, Feed(broken), Ask(n=1), Known(), Choices())
    assert "run file is missing" in answer.told.trouble
    assert "now-sentence" in answer.parts


def test_a_command_is_confirmed_with_a_way_to_take_it_back(links, fake_client):
    said = carry_out(links, Command(do="next", n="1"))
    assert fake_client.sent == [("next", {})]
    assert said.undo == 1


def test_a_refusal_is_said_in_the_recorders_words(links, fake_client):
    fake_client.refuses = "this is the last stage"
    said = carry_out(links, Command(do="next", n="1"))
    assert said.text == "Not done. this is the last stage"
    assert said.tone == "stop"


PANTRY = """
[sheet]
name = "Pantry"
[[ingredient]]
name = "beet juice"
phase = "water"
mass = "300 g"
alternative = [{ name = "carrot juice", ratio = "90 %" }, { name = "water" }]
"""


def test_a_sheet_without_stages_is_not_started_from_the_bench(links, fake_client):
    links.folder().save_sheet("pantry", PANTRY)
    links.folder().save_sheet("roll", template())
    form = start_form(links, "pantry")
    assert "'Pantry' has no stages" in form.says
    assert "add a stage first" in form.says
    assert form.lots == []
    said = carry_out(links, Command(do="start", about={"sheet": "pantry"}, n="1"))
    assert (said.text, said.tone) == (f"Not done. {form.says}", "stop")
    assert fake_client.sent == []
    assert carry_out(links, Command(do="start", about={"sheet": "roll"}, n="2")).tone == "good"
    roll = start_form(links, "roll")
    cocoa = in_ounces(roll, Measures(mass="oz")).lots[0]
    assert (roll.lots[0].amount, cocoa.amount) == ("180 g", "6.35 oz")  # 28.349523125 g an ounce


def test_the_start_dialog_has_the_alternatives_of_the_command_for_its_own_sheet(links, monkeypatch):
    text = f'{PANTRY}[[stage]]\nid = "weigh"\nkind = "weigh"\n'
    links.folder().save_sheet("pantry", text)
    links.instead = {"beet juice": "water"}
    monkeypatch.setattr(links, "own_sheet", lambda: text)
    assert [lot.taken for lot in start_form(links, "").lots] == ["water"]
    assert [lot.taken for lot in start_form(links, "pantry").lots] == [""]
    links.instead = {"beet juice": "gin"}  # of another sheet
    assert [lot.taken for lot in start_form(links, "").lots] == [""]


def test_an_unanswered_command_is_not_called_done(links, fake_client):
    fake_client.now = None
    assert "Not known" in carry_out(links, Command(do="mark", n="1")).text


@pytest.mark.parametrize("do", ["stop", "state", "run_start", "__class__", ""])
def test_a_page_can_send_nothing_but_the_operators_commands(links, fake_client, do):
    assert "no command" in carry_out(links, Command(do=do, n="1")).text
    assert fake_client.sent == []


def test_two_apps_in_one_process_each_have_their_own_recorder(tmp_path, fake_client):
    here, gone = FakeClient(fake_client.now), FakeClient(None)
    told = [
        build_app(tmp_path, links=Links(tmp_path, client))
        .server.test_client()
        .post(BEAT, json={"ask": {"n": 3}}, headers={"Host": "127.0.0.1"})
        .get_json()["told"]
        for client in (here, gone)
    ]
    assert [(one["n"], one["gone"]) for one in told] == [(3, False), (3, True)]


def test_a_part_goes_to_the_browser_as_tags_attributes_and_text():
    made = html.P([html.B("<i>5</i>", className="big"), None, f" {float('nan')}"], title=None)
    assert json.loads(json_of([made, math.nan, np.float64(2.5), np.int64(3)])) == [
        {
            "tag": "p",
            "props": {},
            "inside": [
                {"tag": "b", "props": {"className": "big"}, "inside": "<i>5</i>"},
                None,
                " nan",
            ],
        },
        None,
        2.5,
        3,
    ]


@pytest.mark.parametrize("made", [dcc.Link("x", href="/"), object()])
def test_what_a_page_cannot_draw_by_itself_is_not_sent(made):
    with pytest.raises(ValueError, match=r"no plain HTML|can't be sent"):
        json_of(made)


def test_a_busy_port_gives_the_next_free_one():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        listener, moved = bind("127.0.0.1", port)
        with listener:
            assert moved
            assert listener.getsockname()[1] != port


def test_no_free_port_is_an_error_that_says_what_to_do():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 65535))
        taken.listen()
        with pytest.raises(InputError, match="busy"):
            bind("127.0.0.1", 65535)
