"""The page of instruments: which channel moves, what is said without a recorder."""

from dashboard.measures import Measures
from dashboard.wiring.page import draw_now, moving


def values(state):
    return {c["id"]: c["value"] for c in state["channels"]}


def test_the_channel_that_is_warmed_is_named(heat_state):
    base = values(heat_state)
    heat_state["channels"][1]["value"] += 3.0
    assert moving(heat_state, base) == "Water phase moves."


def test_noise_is_no_move(heat_state):
    base = values(heat_state)
    heat_state["channels"][1]["value"] += 0.3
    assert moving(heat_state, base) == "Listening: nothing moves yet."


def test_two_that_move_are_not_told_apart(heat_state):
    base = values(heat_state)
    heat_state["channels"][0]["value"] += 3.0
    heat_state["channels"][1]["value"] += 2.5
    assert moving(heat_state, base).startswith("Both")


def test_a_stale_channel_does_not_move(heat_state):
    base = values(heat_state)
    heat_state["channels"][0] |= {"value": 90.0, "status": "stale"}
    assert "nothing moves" in moving(heat_state, base)


def test_without_a_recorder_the_page_says_what_to_run():
    assert "bainlog ports --write" in str(draw_now(None, None, Measures()))


def test_channels_say_how_their_checks_stand(heat_state):
    heat_state["channels"][0] |= {
        "check": "overdue", "checked": "checked 410 days ago; check it in ice water",
    }  # fmt: skip
    heat_state["channels"][1] |= {"check": "never", "checked": "never checked"}
    drawn = str(draw_now(heat_state, {"bench": {}}, Measures()))
    assert "checked 410 days ago; check it in ice water" in drawn
    assert "never checked" in drawn
    assert drawn.count("look-warn") == 1
