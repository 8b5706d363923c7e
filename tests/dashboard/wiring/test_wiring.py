"""The page of instruments: which channel moves, checks step by step, the first start."""

import pytest

from dashboard.links import Links
from dashboard.measures import Measures
from dashboard.tryout import Tried
from dashboard.wiring import begin, checking, which
from dashboard.wiring.page import draw_due, draw_now

WANTED = which.Wanted(channel="t2", role="fat")
READING = checking.Check(stage="reading", run="20261125-0913-a3f2", for_s=60.0, channel="fat")


@pytest.fixture
def links(tmp_path, fake_client) -> Links:
    """A recorder that is not there; what it answers beside the usual is `fake_client.answers`."""
    usual, fake_client.answers = fake_client.send, {}
    fake_client.send = lambda kind, **data: usual(kind, **data) | fake_client.answers
    return Links(tmp_path, fake_client)


def values(state):
    return {c.id: c.value for c in state.channels}


def looked(state, base, role):
    return which.look(state, base, role, Measures())


def test_the_channel_that_is_warmed_is_offered_for_the_role(heat_state):
    base = values(heat_state)
    heat_state.channels[1].value += 3.0
    says, channel, new = looked(heat_state, base, "fat")
    assert says.startswith("water moved by 3.0 K.")
    assert says.endswith("Save it as Fat?")
    assert (channel, new) == ("water", True)


def test_a_channel_that_has_the_role_already_is_not_written_again(heat_state):
    base = values(heat_state)
    heat_state.channels[0].value += 3.0
    says, channel, new = looked(heat_state, base, "fat")
    assert "It is Fat already" in says
    assert (channel, new) == ("fat", False)


def test_what_moved_is_said_in_the_units_of_the_screen(heat_state):
    base = values(heat_state)
    heat_state.channels[1].value += 3.0
    assert "5.4 F°" in which.look(heat_state, base, "fat", Measures(temp="F"))[0]


def test_looking_for_a_probe_a_scale_that_moves_does_not_count(heat_state):
    base = values(heat_state)
    heat_state.channels[4].value += 500.0
    assert looked(heat_state, base, "fat")[1] is None
    assert looked(heat_state, base, "bath_scale")[1] == "bowl_scale"


def test_noise_is_no_move(heat_state):
    base = values(heat_state)
    heat_state.channels[1].value += 0.3
    assert "nothing moves" in looked(heat_state, base, "fat")[0]


def test_two_that_move_are_not_told_apart(heat_state):
    base = values(heat_state)
    heat_state.channels[0].value += 3.0
    heat_state.channels[1].value += 2.5
    says, channel, _ = looked(heat_state, base, "core")
    assert says.startswith("Fat and Water phase move together")
    assert channel is None


def test_a_stale_channel_does_not_move(heat_state):
    base = values(heat_state)
    heat_state.channels[0].value, heat_state.channels[0].status = 90.0, "stale"
    assert looked(heat_state, base, "fat")[1] is None


def test_a_role_is_sent_to_the_recorder_and_a_refusal_is_told(links, fake_client):
    fake_client.refuses = "role: a run is being recorded; end it first"
    assert which.take(links, WANTED).startswith("Not saved. role")
    fake_client.now = None
    assert "does not answer" in which.take(links, WANTED)


@pytest.mark.parametrize(
    ("role", "words"),
    [("fat", "warm only the fat probe"), ("bath_scale", "press only on the bath scale")],
)
def test_the_page_says_what_to_do_to_find_a_channel(role, words):
    assert words in which.how(role)


def test_a_check_under_way_says_how_far_it_is_and_what_is_shown(links, fake_client):
    fake_client.now.t_s = 34.0
    _, says = checking.look(links, READING, Measures())
    assert says == "Reading: 0:34 of 1:00. It shows 46.1 °C."
    assert fake_client.sent == []


def test_a_check_whose_time_is_up_is_ended_and_judged_by_the_recorder(links, fake_client):
    fake_client.answers = {"says": "fat showed 0.36 degC at 0.00: add -0.36 ± 0.20 K"}
    fake_client.now.t_s = 61.0
    run, says = checking.look(links, READING, Measures())
    assert fake_client.sent == [("check_end", {"run": READING.run})]
    assert run.stage == "found"
    assert says.endswith("Save it in the bench file?")


def test_a_check_that_was_not_good_enough_offers_nothing_to_write(links, fake_client):
    fake_client.now.t_s = 61.0
    fake_client.refuses = "drift during the check [degC]: found 0.9, expected at most 0.2"
    run, says = checking.look(links, READING, Measures())
    assert run == checking.NONE
    assert "Drift during the check" in says


def test_without_instruments_or_virtual_bench_the_commands_are_told(links, fake_client):
    assert "bainlog demo" in str(begin.draw_demo(links, False))
    fake_client.now = None
    assert "bainlog start" in str(begin.draw_ports(links))


@pytest.mark.parametrize(
    ("stands", "words"),
    [
        (Tried(url="", busy=False, failed=""), "Start the virtual bench"),
        (Tried(url="", busy=True, failed=""), "Starting"),
        (Tried(url="http://127.0.0.1:9/", busy=False, failed=""), "Open the virtual bench"),
        (Tried(url="", busy=False, failed="no room"), "no room"),
    ],
)
def test_the_virtual_bench_starts_at_the_press_of_a_button(tmp_path, fake_client, stands, words):
    links = Links(tmp_path, fake_client, try_out=lambda *, begin: stands)
    assert words in str(begin.draw_demo(links, False))


def test_what_was_heard_on_the_ports_is_listed_and_can_be_taken(links, fake_client):
    fake_client.answers = {
        "busy": False,
        "asked": True,
        "heard": [
            {"says": "/dev/ttyUSB0: comma list of probes at 9600 baud", "shape": "comma list"}
        ],
    }
    drawn = str(begin.draw_ports(links))
    assert "/dev/ttyUSB0" in drawn
    assert "Use these" in drawn
    fake_client.answers["heard"][0]["shape"] = None
    assert "Is it switched on" in str(begin.draw_ports(links))
    fake_client.answers["heard"][0]["lines"] = [
        {"line": 0, "pieces": [{"text": "device 3, holding register 0: ", "number": 0},
                               {"text": "21.53", "number": 1}]}
    ]  # fmt: skip
    drawn = str(begin.draw_ports(links))
    assert "Use these" not in drawn
    assert "Point below at the number" in drawn


def test_channels_say_how_their_check_stands_and_an_overdue_one_is_named(heat_state):
    fat, water = heat_state.channels[:2]
    fat.check, fat.checked = "overdue", "overdue by 12 days"
    water.check, water.checked = "never", "never checked"
    drawn = str(draw_now(heat_state, Measures()))
    assert "overdue by 12 days" in drawn
    assert "never checked" in drawn
    assert "Check overdue: Fat" in str(draw_due(heat_state.channels))
    assert draw_due(heat_state.channels[1:]) is None


@pytest.mark.parametrize(
    ("role", "answers", "sent"),
    [
        ("fat", ("K", "2", None), ("K", "2", "")),
        ("fat", ("don't know", None, None), ("don't know", "don't know", "")),
        ("fat", ("platinum", None, "0.5 K"), ("platinum", "don't know", "0.5 K")),
        ("fat", ("platinum", None, None), ("", "", "")),
        ("fat", ("K", None, None), ("", "", "")),
        ("fat", (None, None, None), ("", "", "")),
        ("bath_scale", (None, "III", "1 g"), ("", "III", "1 g")),
        ("bath_scale", (None, None, None), ("", "", "")),
    ],
)
def test_answers_to_what_a_sensor_is_go_with_its_role(role, answers, sent):
    wanted = which.answered(which.Wanted(channel="t2", role=role), *answers)
    assert (wanted.sensor_type, wanted.sensor_class, wanted.sensor_size) == sent


def test_a_probe_that_has_its_role_is_asked_what_it_is_while_nobody_has_said(heat_state):
    base = values(heat_state)
    heat_state.channels[0].value += 3.0
    says, _, new = which.look(heat_state, base, "fat", Measures(), {"fat"})
    assert "Save what it is?" in says
    assert new
