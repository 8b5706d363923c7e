"""The ports as a page asks about them."""

import pytest

from logger.control.care_requests import Survey, Teach
from logger.model.bench import Bench
from logger.model.errors import InputError
from logger.model.files import bench_from_text
from logger.ports.finding.heard import Heard
from logger.recorder.care import listening
from logger.recorder.care.listening import Listening
from logger.wire.shapes.shape import builtin_shapes
from logger.wire.shapes.together import together
from logger.wire.teaching.registers import Register


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


def test_a_register_is_pointed_at_one_number_after_the_other(tmp_path):
    shape = builtin_shapes()["registers, tenths"]
    text = together({3: (shape, ("t1", "t2"))}, shape.port)
    registers = tuple(
        Register(field=f"d3_t{n}", place=f"register {n}", number=held, factors=shape.factors)
        for n, held in ((1, 2153.0), (2, 64.0))
    )
    ports = Listening(tmp_path)
    ports.heard = [
        Heard(port="p", device="p", description="", baud=9600, registers=registers,
              registers_text=text)
    ]  # fmt: skip
    (shown,) = ports.survey(Survey(), Bench())["heard"]
    assert shown["shape"] is None
    assert "2153, 215.3 or 21.53" in shown["says"]
    assert [p["text"] for p in shown["lines"][0]["pieces"]][3:5] == ["21.53", "register 2: "]
    said = ports.teach(Teach(port="p", number=3, unit="degC"))
    assert "reads now 21.53 °C" in said["says"]
    assert ports.shapes[ports.heard[0].shape].channel["d3_t1"].scale == 0.01
    ports.teach(Teach(port="p", number=1, unit="degF"))
    assert ports.heard[0].fields == ("d3_t1", "d3_t2")
    assert ports.survey(Survey(), Bench())["heard"][0]["lines"] == []
    assert "d3_t2 17.78 °C" in ports.heard[0].says


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
