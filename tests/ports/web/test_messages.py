"""A topic of a broker is a port: values, gaps, passwords, TLS; against a real broker."""

import sys

import pytest

from logger.model.errors import PortError
from logger.ports.errors import NoPermissionError, NoSuchPortError, PortLostError
from logger.ports.finding import listen
from logger.ports.opening import close_port, open_port
from logger.ports.web import credentials, messages
from logger.ports.web.messages import line_of
from logger.wire.recognise import best
from logger.wire.shapes.shape import builtin_shapes
from logger.wire.shapes.tables import PortLine
from tests.ports.conftest import Bench

SCALE = "status, comma, signed weight"


def heard_at(url, said, nudge):
    """Open a topic, publish until lines come, and return them."""
    port = open_port(url, PortLine(), read_s=0.05)
    try:
        heard = b""
        for _ in range(200):
            nudge()
            heard += port.read(4096)
            if said in heard:
                return heard
        pytest.fail(f"never came: {said!r}; {heard!r}")
    finally:
        close_port(port)


@pytest.mark.parametrize(
    ("wanted", "topic", "payload", "line"),
    [
        ("pan", "pan", b"21.5 C", b"21.5 C\r\n"),
        ("pan", "pan", b"ST,+  12.5  g\r\n", b"ST,+  12.5  g\r\n"),
        ("pan", "pan", b'{\n  "temp_c":\r\n 21.5\n}\n', b'{ "temp_c": 21.5 }\r\n'),
        ("pan", "pan", b"T1: 21.5 C\nT2: 22 C", b"T1: 21.5 C T2: 22 C\r\n"),
        ("a/+", "a/T1", b"21.5 C", b"T1: 21.5 C\r\n"),
        ("a/+/now", "a/pan/now", b"21.5", b"pan/now: 21.5\r\n"),
        ("#", "a/b", b"1", b"a/b: 1\r\n"),
    ],
)
def test_a_message_is_a_line(wanted, topic, payload, line):
    assert line_of(wanted, topic, payload) == line


def test_values_come_old_ones_do_not_and_the_broker_s_absence_is_a_gap(
    broker, sender, bench: Bench
):
    sender.send("kitchen/pan", '{"temp_c": 99.0}', retain=True)
    bench.thread(broker.url("open", "kitchen/pan"), "object with temp_c")

    def say(value):
        return lambda: sender.send("kitchen/pan", f'{{"temp_c": {value}}}')

    bench.sink.wait(lambda s: len(s.values()) >= 3, "three messages", nudge=say(21.5))
    sender.close()
    broker.stop()
    bench.sink.wait(lambda s: "lost" in s.kinds, "the loss")
    broker.start()
    again = broker.sender()
    later = '{"temp_c": 22.5}'
    bench.sink.wait(
        lambda s: 22.5 in s.values(), "it is back", nudge=lambda: again.send("kitchen/pan", later)
    )
    again.close()
    assert set(bench.sink.values()) == {21.5, 22.5}
    assert bench.sink.kinds == ["connected", "lost", "connected"]
    assert "tried again automatically" in bench.sink.events[1].text


def test_a_topic_is_recognised(broker, sender, monkeypatch):
    read = messages.MessagePort.read

    def nudged(port, size=1):
        sender.send("scale", builtin_shapes()[SCALE].sample[0].sent)
        return read(port, size)

    monkeypatch.setattr(messages.MessagePort, "read", nudged)
    (heard,) = listen.survey(0.5, devices=[broker.url("open", "scale")], only=True)
    assert heard.shape == SCALE


def test_passwords_and_certificates_come_from_outside_the_address(broker, sender, monkeypatch):
    locked, tls = broker.url("locked", "x"), broker.url("tls", "scale/+")
    with pytest.raises(NoPermissionError, match="set BAINLOG_MQTT_USER_127_0_0_1 and BAINLOG_"):
        open_port(locked, PortLine())
    monkeypatch.setenv("BAINLOG_MQTT_USER_127_0_0_1", "me")
    monkeypatch.setenv("BAINLOG_MQTT_PASSWORD_127_0_0_1", "another")
    with pytest.raises(NoPermissionError, match="are set, but the broker refused them") as told:
        open_port(locked, PortLine())
    assert "another" not in str(told.value)
    monkeypatch.setenv("BAINLOG_MQTT_PASSWORD_127_0_0_1", "open sesame")
    port = open_port(locked, PortLine())
    with pytest.raises(PortLostError, match="no contact"):
        _ = port.cts
    assert port.write(b"x") == 1
    close_port(port)
    monkeypatch.delenv("BAINLOG_MQTT_USER_127_0_0_1")
    with pytest.raises(NoPermissionError, match=r"not trusted .* BAINLOG_MQTT_CA_127_0_0_1"):
        open_port(tls, PortLine())
    monkeypatch.setenv("BAINLOG_MQTT_CA_127_0_0_1", "/no/such.pem")
    with pytest.raises(NoSuchPortError, match="a file that is not there"):
        open_port(tls, PortLine())
    monkeypatch.setenv("BAINLOG_MQTT_CA_127_0_0_1", broker.certificate)
    heard = heard_at(tls, b"pan: 21.5 C\r\n", lambda: sender.send("scale/pan", "21.5 C"))
    assert set(heard.splitlines()) == {b"", b"pan: 21.5 C"}
    with pytest.raises(NoSuchPortError, match=r"does not speak TLS|no broker answers"):
        open_port(broker.url("open", "x").replace("mqtt:", "mqtts:"), PortLine())
    with pytest.raises(PortLostError, match="a message of more than 1000000 bytes"):
        heard_at(broker.url("open", "big"), b"never", lambda: sender.send("big", b"x" * 2_000_000))


def test_a_message_that_is_too_long_is_told_as_a_line_and_the_next_one_comes(broker, sender):
    said = [b"x" * 200_000, "21.5 C"]

    def both():
        for one in said:
            sender.send("long", one)

    heard = heard_at(broker.url("open", "long"), b"21.5 C", both)
    assert b"\n(message of 200000 bytes left out)\r\n" in heard
    assert best(b"(message of 200000 bytes left out)\r\n" * 5, builtin_shapes()) is None


def test_no_broker_or_no_package_is_told_as_such(monkeypatch):
    with pytest.raises(NoSuchPortError, match="no broker answers"):
        open_port("mqtt://127.0.0.1:9/x", PortLine())
    monkeypatch.setitem(sys.modules, "paho.mqtt.client", None)
    with pytest.raises(PortError, match=r"pip install 'bainlog\[mqtt\]'"):
        open_port("mqtt://127.0.0.1:9/x", PortLine())


def test_the_keyring_is_asked_once_and_a_locked_one_is_none(monkeypatch):
    class KeyringError(Exception):
        pass

    class Ring:
        def __init__(self):
            self.asked = []

        def get_password(self, service, name):
            self.asked.append((service, name))
            if "LOCKED" in name:
                raise KeyringError
            return "from the ring"

    ring, errors = Ring(), type("errors", (), {"KeyringError": KeyringError})
    monkeypatch.setitem(sys.modules, "keyring", ring)
    monkeypatch.setitem(sys.modules, "keyring.errors", errors)
    credentials._in_keyring.cache_clear()
    assert credentials.secret_of("MQTT_PASSWORD", "jar.local") == "from the ring"
    assert credentials.secret_of("MQTT_PASSWORD", "jar.local") == "from the ring"
    assert credentials.secret_of("MQTT_PASSWORD", "locked") is None
    monkeypatch.setenv("BAINLOG_MQTT_PASSWORD_JAR_LOCAL", "from the environment")
    assert credentials.secret_of("MQTT_PASSWORD", "jar.local") == "from the environment"
    assert ring.asked == [
        ("bainlog", "BAINLOG_MQTT_PASSWORD_JAR_LOCAL"),
        ("bainlog", "BAINLOG_MQTT_PASSWORD_LOCKED"),
    ]
    credentials._in_keyring.cache_clear()
