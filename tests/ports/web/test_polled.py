"""A page with values, on a real web server of this machine, is read as a port that prints lines."""

import json
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest

from logger.ports.errors import NoPermissionError, NoSuchPortError, PortLostError
from logger.ports.finding import listen
from logger.ports.opening import open_port
from logger.ports.web import polled
from logger.wire.shapes.tables import PortLine
from tests.ports.conftest import Bench

GOOD = "Bearer open sesame"


class Page(BaseHTTPRequestHandler):
    """Shows one temperature at /now, wants a token at /locked, and sends elsewhere at /moved."""

    token = ""
    temp_c = 21.5

    def do_GET(self):
        cls = type(self)
        cls.token = self.headers.get("Authorization", "")
        if self.path == "/locked" and cls.token != GOOD:
            self.send_error(401)
        elif self.path == "/moved":
            self.send_response(302)
            self.send_header("Location", "/now?x=1")
            self.end_headers()
        elif self.path in ("/now?x=1", "/locked"):
            self.send_response(200)
            self.end_headers()
            self.wfile.write(json.dumps({"temp_c": cls.temp_c}, indent=2).encode())
        else:
            self.send_error(404)

    def log_message(self, *_args):
        """Say nothing."""


@pytest.fixture
def page(monkeypatch):
    monkeypatch.setattr(polled, "EVERY_S", 0.05)
    server = ThreadingHTTPServer(("127.0.0.1", 0), Page)
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    server.server_close()
    thread.join(20)


def test_a_page_is_read_by_a_line_format_and_recognised(page, bench: Bench):
    bench.thread(f"{page}/now?x=1", "object with temp_c")
    bench.sink.wait(lambda s: len(s.values()) >= 3, "three answers")
    assert set(bench.sink.values()) == {21.5}
    assert bench.sink.kinds == ["connected"]
    (heard,) = listen.survey(0.5, devices=[f"{page}/now?x=1"], only=True, ask=False)
    assert heard.shape == "object with temp_c"


@pytest.mark.parametrize(
    ("path", "kind", "words"),
    [
        ("/", NoSuchPortError, "answers 404; check the path"),
        ("/moved", NoSuchPortError, "redirects"),
        ("/locked", NoPermissionError, "BAINLOG_HTTP_TOKEN_127_0_0_1 in the environment"),
    ],
)
def test_what_is_wrong_with_a_page_is_told(page, path, kind, words):
    with pytest.raises(kind, match=words):
        open_port(page + path, PortLine())


def test_a_token_of_the_environment_goes_to_its_server_only(page, monkeypatch):
    monkeypatch.setenv("BAINLOG_HTTP_TOKEN_127_0_0_1", "a wrong one")
    with pytest.raises(
        NoPermissionError, match=r"the token set as .*_127_0_0_1 was refused"
    ) as told:
        open_port(f"{page}/locked", PortLine())
    assert "a wrong one" not in str(told.value)
    monkeypatch.setenv("BAINLOG_HTTP_TOKEN_127_0_0_1", "open sesame")
    monkeypatch.setenv("BAINLOG_HTTP_TOKEN_KETTLE", "another")
    assert open_port(f"{page}/locked", PortLine()).read(200).startswith(b'\n{ "temp_c": 21.5 }')
    monkeypatch.delenv("BAINLOG_HTTP_TOKEN_127_0_0_1")
    open_port(f"{page}/now?x=1", PortLine())
    assert Page.token == ""


def test_a_page_has_no_contact_of_a_foot_switch(page):
    with pytest.raises(PortLostError, match="no contact"):
        _ = open_port(f"{page}/now?x=1", PortLine()).cts


def test_a_server_that_is_off_is_told_as_such():
    with pytest.raises(NoSuchPortError, match="does not answer"):
        open_port("http://127.0.0.1:9/now", PortLine())
