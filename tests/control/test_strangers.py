"""Whoever has no token keeps out nobody who has it: places are for connections that showed it."""

import contextlib
import json
import socket

import pytest

from logger.control import server as control
from logger.control.client import Client
from logger.control.messages import encode
from logger.control.server import ControlServer


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
