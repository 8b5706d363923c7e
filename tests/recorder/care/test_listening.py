"""The ports as a page asks about them."""

from logger.control.care_requests import Survey
from logger.ports.finding.heard import Heard
from logger.recorder.care import listening
from logger.recorder.care.listening import Listening


def test_a_port_named_by_hand_is_listened_to_alone_and_what_was_heard_before_stays(
    tmp_path, monkeypatch, eventually
):
    asked = []

    def survey(seconds, *, devices, only, **how):
        asked.append((list(devices), only))
        return [Heard(port=d, device=d, description="") for d in devices or ["/dev/listed"]]

    monkeypatch.setattr(listening, "survey", survey)
    ports = Listening(tmp_path)
    for port, there in (("", 1), ("/dev/by-hand", 2), ("/dev/by-hand", 2)):
        ports.survey(Survey(begin=True, port=port))
        eventually(lambda: not ports.survey(Survey())["busy"])
        assert len(ports.survey(Survey())["heard"]) == there
    assert asked == [([], False), (["/dev/by-hand"], True), (["/dev/by-hand"], True)]
    assert [one.device for one in ports.heard] == ["/dev/listed", "/dev/by-hand"]
