"""Whoever has no token keeps out nobody who has it: places are for connections that showed it."""

import contextlib
import json
import secrets
import select
import socket
import sys
import threading

import pytest

from logger.control import client as asking
from logger.control import server as control
from logger.control.address import Address
from logger.control.client import Client, GoneError
from logger.control.messages import encode
from logger.control.server import ControlServer
from tests.trust.hostile.crowd import crowd


@pytest.fixture
def served(tmp_path):
    server = ControlServer(tmp_path, lambda do, data: {"do": do})
    server.start()
    with contextlib.ExitStack() as lines:

        def connect():
            return lines.enter_context(socket.create_connection(("127.0.0.1", server.port), 60))

        yield tmp_path, server, connect
    server.stop()


def test_idle_connections_without_a_token_do_not_shut_the_owner_out(served):
    folder, _, connect = served
    idle = [connect() for _ in range(3 * control.MAX_CONNECTIONS)]
    with Client(folder) as client:
        assert client.send("mark") == {"do": "mark"}
        idle += [connect() for _ in range(control.MAX_CONNECTIONS)]
        assert client.send("note", text="x") == {"do": "note"}


def test_half_a_request_in_many_connections_does_not_shut_the_owner_out(served):
    folder, _, connect = served
    lines = [connect() for _ in range(100)]
    for line in lines:
        with contextlib.suppress(OSError):  # the oldest are cut already
            line.sendall(b'{"token": "')
    with Client(folder) as client:
        assert client.send("mark") == {"do": "mark"}


def test_a_stranger_that_trickles_is_cut_when_its_time_is_over(served, monkeypatch, eventually):
    _, _, connect = served
    monkeypatch.setattr(control, "TOKEN_S", 0.3)
    line = connect()
    line.setblocking(False)

    def cut():
        try:
            line.send(b" ")
            return line.recv(1) == b""
        except BlockingIOError:
            return False
        except OSError:
            return True

    eventually(cut)


def test_a_connection_that_has_shown_the_token_may_be_slow(served, monkeypatch, eventually):
    folder, _, connect = served
    monkeypatch.setattr(control, "TOKEN_S", 0.3)
    with Client(folder) as client:
        client.send("mark")
        gone = connect()
        gone.settimeout(60)
        assert gone.recv(1) == b""  # a stranger that came later is cut
        own = client._socket
        assert client.send("mark") == {"do": "mark"}
        assert client._socket is own


def test_a_wrong_token_is_answered_and_closed(served):
    _, _, connect = served
    line = connect()
    line.sendall(encode({"token": "guess", "do": "mark", "data": {}}) * 50)
    answers = line.makefile("rb").readlines()
    assert len(answers) == 1
    assert json.loads(answers[0])["ok"] is False


@pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="elsewhere what came is dropped; it is sent again"
)
def test_who_is_pushed_out_after_its_token_has_come_is_answered_all_the_same(served, monkeypatch):
    folder, server, _ = served
    welcome = server._server.welcome

    def late(connection):
        select.select([connection], [], [], 60)  # its line is there; then it is pushed out
        welcome(connection)

    monkeypatch.setattr(server._server, "welcome", late)
    monkeypatch.setattr(control, "MAX_STRANGERS", 0)
    monkeypatch.setattr(asking, "_TRIES", 1)
    for _ in range(20):
        with Client(folder) as client:
            assert client.send("mark") == {"do": "mark"}


def test_a_crowd_that_connects_without_pause_keeps_no_owner_out_and_doubles_no_command(tmp_path):
    asked = []
    server = ControlServer(tmp_path, lambda do, data: asked.append(data["text"]))
    server.start()
    try:
        with crowd(server.port):
            for n in range(100):
                with Client(tmp_path) as client:
                    client.ask("note", text=str(n))
    finally:
        server.stop()
    assert asked == [str(n) for n in range(100)]


class Deaf:
    """Closes so many connections without a word, then answers; counts them."""

    def __init__(self, folder, closes):
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._closes, self.came = closes, 0
        port = self._listener.getsockname()[1]
        Address(port=port, token=secrets.token_urlsafe(), pid=1).write(folder)
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *failure):
        self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self._thread.join(60)

    def _run(self):
        while True:
            try:
                line, _ = self._listener.accept()
            except OSError:
                return
            with line:
                self.came += 1
                if self.came > self._closes:
                    line.makefile("rb").readline()
                    line.sendall(encode({"ok": True, "answer": "heard"}))


def test_an_owner_that_is_pushed_out_comes_again_a_bounded_number_of_times(tmp_path):
    with Deaf(tmp_path, asking._TRIES - 1) as deaf, Client(tmp_path) as client:
        assert client.ask("ping") == "heard"
        assert deaf.came == asking._TRIES
    with Deaf(tmp_path, 10**9) as deaf, Client(tmp_path) as client:
        with pytest.raises(GoneError):
            client.ask("ping")
        assert deaf.came == asking._TRIES
