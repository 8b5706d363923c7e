"""The page that stands at the screen's address while the screen is being prepared."""

import json
import socket
import subprocess
import sys
import urllib.request

import pytest

from dashboard.doors.address import LOOPBACK, bind
from dashboard.doors.waiting import ASK, Waiting


@pytest.fixture
def bound():
    made = bind(LOOPBACK, 0)
    yield made
    made.listener.close()


def got(url: str) -> str:
    with urllib.request.urlopen(url, timeout=20) as answer:  # noqa: S310 - this machine
        return answer.read().decode()


def test_a_visitor_is_told_how_far_it_is(bound):
    waiting = Waiting(bound.listener)
    waiting.say("Unpacking <12>")
    assert "Unpacking &lt;12&gt;" in got(bound.url)
    assert json.loads(got(bound.url + ASK.decode()[1:])) == {"preparing": "Unpacking <12>"}
    waiting.close()
    waiting.close()


def test_who_comes_next_takes_over_the_socket_and_no_visitor_is_turned_away(bound):
    waiting = Waiting(bound.listener)
    waiting.close()
    with socket.create_connection(bound.listener.getsockname()) as between:
        bound.listener.setblocking(True)
        taken, _ = bound.listener.accept()
        with taken:
            taken.sendall(b"here")
        assert between.recv(4) == b"here"


def test_one_who_says_nothing_holds_nobody_up_for_long(bound, monkeypatch):
    monkeypatch.setattr("dashboard.doors.waiting.ANSWER_S", 0.05)
    waiting = Waiting(bound.listener)
    with socket.create_connection(bound.listener.getsockname()):
        assert "Getting ready" in got(bound.url)
    waiting.close()


def test_the_demo_answers_before_anything_slow_is_loaded():
    """Its page shows how far it is while the rest is loaded behind it."""
    look = (
        "import sys, logger.cli.demo, dashboard.doors.address, dashboard.doors.waiting; "
        "print(*{name.partition('.')[0] for name in sys.modules})"
    )
    done = subprocess.run([sys.executable, "-c", look], capture_output=True, text=True, check=True)
    slow = {"numpy", "scipy", "dash", "flask", "plotly", "pydantic", "apsw"}
    assert slow & set(done.stdout.split()) == set()
