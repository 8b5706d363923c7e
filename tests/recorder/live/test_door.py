"""What a client sends is parsed in the thread of its connection, not by owner or writer."""

import threading

import pytest

from logger.control.client import Client, RefusedError
from logger.model.history import piece_defects
from logger.ports.clock import Clock
from logger.recorder.live import runs, session
from logger.recorder.live.session import Recorder
from logger.recorder.setup import setup_from_files
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView

SHEET = '[sheet]\nname = "x"\n'


def test_no_text_of_a_client_is_parsed_by_the_owner_or_the_writer(tmp_path, monkeypatch):
    seen = []

    def noted(function):
        def call(*args, **kwargs):
            seen.append((function.__name__, threading.current_thread().name))
            return function(*args, **kwargs)

        return call

    monkeypatch.setattr(runs, "known_sheet", noted(runs.known_sheet))
    monkeypatch.setattr(session, "request_of", noted(session.request_of))
    folder = DataFolder(tmp_path)
    recorder = Recorder(folder, setup_from_files(folder, None, None), Clock())
    recorder.start()
    try:
        with Client(tmp_path) as client:
            client.send("start", sheet=SHEET)
            client.send("outcome", outcome="accepted")
            assert client.state().phase == "recording"
            parsed = len(seen)
            with pytest.raises(RefusedError, match="is being recorded"):
                client.send("start", sheet=SHEET)
            assert [name for name, _ in seen[parsed:]] == ["request_of"], "it was parsed first"
            del seen[parsed:]
            client.send("run_end")
            assert client.state().phase == "idle"
    finally:
        recorder.stop()
    assert [name for name, _ in seen] == ["request_of", "known_sheet", "request_of", "request_of"]
    assert not {thread for _, thread in seen} & {"owner", "writer"}


def test_what_single_pieces_came_to_is_said_of_the_run_under_way_and_of_a_finished_one(tmp_path):
    folder = DataFolder(tmp_path)
    recorder = Recorder(folder, setup_from_files(folder, None, None), Clock())
    recorder.start()
    try:
        with Client(tmp_path) as client:
            run = client.send("start", sheet=SHEET)["run"]
            pieces = [{"piece": 2, "defects": ["greasy"]}]
            client.send("outcome", outcome="rejected", pieces=pieces)
            client.send("run_end")
            with RunView.open(folder.run_path(run)) as view:
                assert piece_defects(view.events()) == {2: ("greasy",)}
            client.send("outcome", run=run, outcome="rejected", text="as before")
            with RunView.open(folder.run_path(run)) as view:
                assert piece_defects(view.events()) == {2: ("greasy",)}
            client.send("outcome", run=run, outcome="rejected", pieces=[])
            with RunView.open(folder.run_path(run)) as view:
                assert piece_defects(view.events()) == {}
    finally:
        recorder.stop()
