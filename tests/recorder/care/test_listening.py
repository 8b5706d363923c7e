"""The ports as a page asks about them."""

import pytest

from logger.control.care_requests import Survey
from logger.model.bench import Bench
from logger.model.errors import InputError
from logger.model.files import bench_from_text
from logger.ports.finding.heard import Heard
from logger.recorder.care import listening
from logger.recorder.care.listening import Listening


def test_a_port_named_by_hand_is_listened_to_alone_and_what_was_heard_before_stays(
    tmp_path, monkeypatch, eventually
):
    asked = []

    def survey(seconds, *, devices, only, skip, **how):
        asked.append((list(devices), only))
        return [Heard(port=d, device=d, description="") for d in devices or ["/dev/listed"]]

    monkeypatch.setattr(listening, "survey", survey)
    ports = Listening(tmp_path)
    for port, there in (("", 1), ("/dev/by-hand", 2), ("/dev/by-hand", 2)):
        ports.survey(Survey(begin=True, port=port), Bench())
        eventually(lambda: not ports.survey(Survey(), Bench())["busy"])
        assert len(ports.survey(Survey(), Bench())["heard"]) == there
    assert asked == [([], False), (["/dev/by-hand"], True), (["/dev/by-hand"], True)]
    assert [one.device for one in ports.heard] == ["/dev/listed", "/dev/by-hand"]


def test_a_port_that_is_read_already_is_left_alone(tmp_path, monkeypatch, eventually):
    real, link = tmp_path / "real", tmp_path / "link"
    real.touch()
    link.symlink_to(real)
    asked = []

    def survey(seconds, *, skip, **how):
        asked.append(list(skip))
        return []

    monkeypatch.setattr(listening, "survey", survey)
    text = f'[[instrument]]\nid = "jar"\nport = "{link}"\nshape = "x"\n'
    there, ports = bench_from_text(text, "b"), Listening(tmp_path)
    with pytest.raises(InputError, match="jar is read there already"):
        ports.survey(Survey(begin=True, port=str(real)), there)
    with pytest.raises(InputError, match="name it in the bench file instead"):
        ports.survey(Survey(begin=True, port="mqtt://10.0.0.5/x"), there)
    ports.survey(Survey(begin=True), there)
    eventually(lambda: not ports.survey(Survey(), there)["busy"])
    assert asked == [[str(link)]]
