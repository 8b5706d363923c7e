"""Drawn inputs at every door: an error of ours, in words, or nothing. No traceback, no hang."""

import importlib.util
import json
import socket
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from logger.control.address import read_address
from logger.control.client import Client
from logger.control.messages import encode
from logger.control.server import ControlServer

_spec = importlib.util.spec_from_file_location("doors", Path(__file__).parent / "doors.py")
doors = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(doors)

SEEDS = doors.seeds()
PIECES = [
    b"", b"\x00", b"\xff", b"\n", b",", b'"', b"=", b"[", b"]", b"{", b"}", b"nan", b"inf", b"-0",
    b"1e999", b"9" * 40, b"null", b"true", b"[[stage]]", b'kind = "set"', b"\\ud800",
    b"\xed\xa0\x80", b"degC", b"2026-11-25", b"''''", b"=1+1", b"\xef\xbb\xbf", b"\x80\x00\x00\x00",
]  # fmt: skip
usual = settings(
    deadline=None, max_examples=60,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip


@st.composite
def torn(draw: st.DrawFn, target: str) -> bytes:
    """A good input with places overwritten, taken out, doubled, or cut off."""
    data = draw(st.sampled_from(SEEDS[target]))
    for _ in range(draw(st.integers(0, 5))):
        at = draw(st.integers(0, len(data)))
        gone = draw(st.integers(0, 40))
        new = draw(st.sampled_from(PIECES) | st.binary(max_size=6))
        what = draw(st.sampled_from(["replace", "insert", "double", "cut"]))
        if what == "cut":
            data = data[:at]
        elif what == "double":
            data = data[:at] + data[at : at + gone] * 2 + data[at + gone :]
        else:
            data = data[:at] + new + data[at + (len(new) if what == "insert" else gone) :]
    return data


@pytest.mark.parametrize("target", doors.TARGETS)
@usual
@given(st.data())
def test_torn_files_are_refused_in_words_or_read(target, data):
    said = doors.tried(target, data.draw(torn(target)))
    assert len(said) < 20_000


@pytest.mark.parametrize("target", doors.TARGETS)
@usual
@given(st.binary(max_size=400))
def test_any_bytes_are_refused_in_words_or_read(target, data):
    doors.tried(target, data)


def test_the_good_inputs_are_read():
    """Else tearing them apart would say nothing."""
    for target, given_ in SEEDS.items():
        for data in given_[:2]:
            assert doors.tried(target, data) == "", target


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    folder = tmp_path_factory.mktemp("line")
    line = ControlServer(folder, lambda do, data: {"did": do})
    line.start()
    yield folder, line.port
    line.stop()


@settings(deadline=None, max_examples=30, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.binary(max_size=60) | torn("control"), min_size=1, max_size=4))
def test_whatever_is_said_on_the_control_line_it_stays_open_for_the_next(server, lines):
    folder, port = server
    with socket.create_connection(("127.0.0.1", port), timeout=60) as s:
        token = read_address(folder).token
        s.sendall(encode({"token": token, "do": "ping", "data": {}}))
        s.sendall(b"".join(line.replace(b"\n", b" ") + b"\n" for line in lines))
        s.shutdown(socket.SHUT_WR)
        replies = [json.loads(reply) for reply in s.makefile("rb")]
    assert replies.pop(0)["ok"]
    assert len(replies) == len(lines)
    assert not any(reply["ok"] for reply in replies), "the token was given once only"
    assert not [r for r in replies if "failed to answer" in r["error"]]
    with Client(folder) as client:
        assert client.ask("ping") == {"did": "ping"}
