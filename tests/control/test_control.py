"""The control line: a real socket, a real token, and what it refuses."""

import json
import os
import socket
import stat

import pytest

from logger.control.address import FILE_NAME, read_address
from logger.control.client import Client, GoneError, RefusedError, _is_closed
from logger.control.messages import MAX_LINE, decode, encode, request_from
from logger.control.server import ControlServer, _Connection
from logger.model.errors import InputError


@pytest.fixture
def answered(tmp_path):
    """A server that answers with what it was asked; refuses notes that say no."""
    asked = []

    def answer(do, data):
        asked.append((do, data))
        if data.get("text") == "no":
            raise InputError("note", "it says no", "say yes")
        return {"do": do, "data": data, "number": float("nan")}

    server = ControlServer(tmp_path, answer)
    server.start()
    with Client(tmp_path) as client:
        yield client, asked, tmp_path
    server.stop()


def test_a_command_comes_back_with_its_answer(answered):
    client, asked, _ = answered
    assert client.send("mark", text="first piece")["do"] == "mark"
    assert asked == [("mark", {"text": "first piece"})]


def test_a_number_that_json_cannot_hold_becomes_null(answered):
    assert answered[0].send("mark")["number"] is None


def test_a_refusal_says_why(answered):
    with pytest.raises(RefusedError, match="it says no"):
        answered[0].send("note", text="no")


def test_an_unknown_command_is_refused_and_the_line_stays_usable(answered):
    client = answered[0]
    with pytest.raises(RefusedError, match="unknown command"):
        client.send("fly")
    assert client.send("mark")["do"] == "mark"


def test_a_wrong_token_is_refused(answered):
    _, asked, folder = answered
    with socket.create_connection(("127.0.0.1", read_address(folder).port), timeout=60) as line:
        line.sendall(encode({"token": "guess", "do": "mark", "data": {}}))
        reply = json.loads(line.makefile("rb").readline())
    assert not reply["ok"]
    assert "token" in reply["error"]
    assert asked == []


def test_a_line_without_end_is_cut_off(answered):
    with socket.create_connection(("127.0.0.1", read_address(answered[2]).port), timeout=60) as s:
        reply = b""
        try:
            s.sendall(b"x" * (MAX_LINE + 2))
            reply = s.makefile("rb").readline()
        except OSError:
            pass  # the server closed while we were still sending: also a refusal
    assert b'"ok": true' not in reply


@pytest.mark.skipif(os.name != "posix", reason="file modes are a POSIX matter")
def test_only_its_own_user_can_read_the_token(answered):
    mode = stat.S_IMODE((answered[2] / FILE_NAME).stat().st_mode)
    assert mode == 0o600


def test_without_a_recorder_the_client_says_so(tmp_path):
    with pytest.raises(GoneError, match="no recorder answers"):
        Client(tmp_path).state()  # no line was opened: nothing to close


def test_a_client_finds_a_restarted_recorder(tmp_path):
    with Client(tmp_path) as client:
        for number in (1, 2):
            server = ControlServer(tmp_path, lambda do, data, n=number: {"server": n})
            server.start()
            assert client.send("mark")["server"] == number
            server.stop()
        with pytest.raises(GoneError):
            client.send("mark")


def test_a_line_that_was_silent_for_long_is_opened_anew(tmp_path, monkeypatch, eventually):
    """The first question of a page that had slept was answered: no recorder."""
    monkeypatch.setattr(_Connection, "timeout", 0.1)
    server = ControlServer(tmp_path, lambda do, data: {"do": do})
    server.start()
    with Client(tmp_path) as client:
        assert client.send("mark")["do"] == "mark"
        eventually(lambda: _is_closed(client._socket))
        assert client.send("note", text="awake")["do"] == "note"
    server.stop()


@pytest.mark.parametrize(
    "message",
    [{}, {"token": 1, "do": "mark"}, {"token": "t", "do": "mark", "data": []}],
)
def test_a_request_of_another_shape_is_refused(message):
    with pytest.raises(InputError):
        request_from(message)


@pytest.mark.parametrize("line", [b"", b"[]", b"\xff", b"[" * 100_000])
def test_a_line_that_is_no_object_is_refused(line):
    with pytest.raises(InputError):
        decode(line)
