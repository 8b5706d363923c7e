"""Connections that say nothing, little or too much keep nobody out of the screen."""

import contextlib
import socket
import threading
import urllib.request

import flask
import pytest

from dashboard.doors import visitors
from dashboard.doors.address import bind
from dashboard.doors.visitors import Visitors, takes_long
from logger.store.photos.encoding import MOST_GIVEN_BYTES

GET = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"


class Served:
    """A server on a free port whose exports wait until they are let go."""

    def __init__(self):
        app = flask.Flask("served")
        self.go, self.busy = threading.Event(), threading.Semaphore(0)
        app.add_url_rule("/", "page", lambda: "page")
        app.add_url_rule("/echo", "echo", lambda: flask.request.get_data(), methods=["POST"])
        app.add_url_rule("/runs/<run_id>/export/csv", "export", self.export)
        app.add_url_rule("/runs/<run_id>/photo", "photo", self.photo, methods=["POST"])
        listener, _ = bind("127.0.0.1", 0)
        self.port = listener.getsockname()[1]
        self.server = Visitors(app, listener)
        self.thread = threading.Thread(target=self.server.run, daemon=True)
        self.thread.start()

    def photo(self, run_id):
        return "photo" if len(flask.request.get_data()) == MOST_GIVEN_BYTES else "cut"

    def export(self, run_id):
        self.busy.release()
        assert self.go.wait(60)
        return run_id

    def connect(self):
        return socket.create_connection(("127.0.0.1", self.port), timeout=60)

    def page(self):
        with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/", timeout=60) as answer:
            return answer.read()

    def stop(self):
        self.go.set()
        self.server.pull_trigger()
        self.server.task_dispatcher.shutdown()
        for channel in list(self.server.active_channels.values()):
            channel.will_close = True
        self.server.pull_trigger()


@pytest.fixture
def served():
    made = Served()
    yield made
    made.stop()


@pytest.fixture
def lines():
    with contextlib.ExitStack() as stack:
        yield stack.enter_context


def is_closed(line):
    line.setblocking(False)
    try:
        while True:
            if line.recv(4096) == b"":
                return True
    except BlockingIOError:
        return False
    except OSError:
        return True


@pytest.mark.parametrize(
    "start", [b"", b"GET / HT", b"POST /echo HTTP/1.1\r\nContent-Length: 9\r\n\r\nx"]
)
def test_half_open_requests_do_not_keep_a_visitor_out(served, lines, start):
    half = [lines(served.connect()) for _ in range(150)]
    for line in half:
        with contextlib.suppress(OSError):
            line.sendall(start)
    assert served.page() == b"page"


def test_idle_and_half_open_connections_together_do_not_keep_a_visitor_out(served, lines):
    for _ in range(100):
        line = lines(served.connect())
        line.sendall(GET)
        line.recv(4096)
    half = [lines(served.connect()) for _ in range(100)]
    for line in half:
        with contextlib.suppress(OSError):
            line.sendall(b"GET")
    assert served.page() == b"page"
    assert len(served.server.active_channels) <= visitors.PER_CLIENT + 1


@pytest.mark.parametrize(
    ("name", "start"),
    [("HEADER_S", b"GET / HTTP/1.1\r\nX: "),
     ("REQUEST_S", b"POST /echo HTTP/1.1\r\nContent-Length: 900000\r\n\r\n"),
     ("REQUEST_S", b"POST /echo HTTP/1.1\r\nTransfer-Encoding: chunked\r\n\r\n")],
)  # fmt: skip
def test_a_request_that_trickles_is_closed_when_its_time_is_over(
    served, lines, monkeypatch, eventually, name, start
):
    monkeypatch.setattr(visitors, name, 0.5)
    line = lines(served.connect())
    line.sendall(start)

    def trickled():
        with contextlib.suppress(OSError):
            line.send(b"1\r\nx\r\n" if b"chunked" in start else b"x")
        return is_closed(line)

    eventually(trickled)


def test_a_trickle_after_an_honest_request_is_closed_too(served, lines, monkeypatch, eventually):
    monkeypatch.setattr(visitors, "HEADER_S", 0.5)
    line = lines(served.connect())
    line.sendall(GET)
    assert line.recv(4096).startswith(b"HTTP/1.1 200")
    line.sendall(b"GET")
    eventually(lambda: is_closed(line))


@pytest.mark.parametrize(
    ("request_", "status"),
    [(b"GET / HTTP/1.1\r\nX: " + b"a" * 40_000 + b"\r\n\r\n", b"431"),
     (b"POST /echo HTTP/1.1\r\nContent-Length: 5000000\r\n\r\n", b"413")],
)  # fmt: skip
def test_a_header_or_body_that_is_too_long_is_refused_unread(served, lines, request_, status):
    line = lines(served.connect())
    line.sendall(request_)
    assert line.recv(4096).split()[1] == status
    assert served.page() == b"page"


def test_a_photo_may_be_as_long_as_the_command_takes_and_longer_is_told_in_our_words(served, lines):
    for length, status, said in (
        (MOST_GIVEN_BYTES, b"200", b"photo"),
        (MOST_GIVEN_BYTES + 1, b"413", b"Not saved: more than 20 MB. Use a smaller copy.\n"),
    ):
        line = lines(served.connect())
        head = b"POST /runs/a/photo HTTP/1.1\r\nHost: x\r\nContent-Length: %d\r\n\r\n" % length
        line.sendall(head)
        if status == b"200":
            line.sendall(bytes(length))
        answer = line.recv(4096)
        while said not in answer:
            more = line.recv(4096)
            assert more, answer
            answer += more
        assert answer.split()[1] == status
        assert answer.endswith(said)


def test_pages_are_answered_while_ten_exports_are_made(served, lines):
    exports = [lines(served.connect()) for _ in range(10)]
    for line in exports:
        line.sendall(b"GET /runs/a/export/csv HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
    for _ in range(visitors.EXPORT_THREADS):
        assert served.busy.acquire(timeout=60)
    assert served.page() == b"page"
    assert not served.busy.acquire(blocking=False), "more exports at once than threads for them"
    served.go.set()
    for line in exports:
        assert line.recv(4096).startswith(b"HTTP/1.1 200")


def test_what_takes_long_is_told_by_its_path():
    assert takes_long("/runs/20261125-0913-a3f2/export/csv")
    assert takes_long("/runs/20261125-0913-a3f2/report")
    assert not takes_long("/runs/20261125-0913-a3f2")
    assert not takes_long("/_dash-update-component")
