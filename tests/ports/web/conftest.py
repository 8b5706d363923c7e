"""A broker of this machine for tests: three listeners on loopback, and somebody who publishes."""

import contextlib
import os
import random
import shutil
import socket
import subprocess
import threading
from pathlib import Path

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

PLACES = f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin"
PROGRAMS = {n: shutil.which(n, path=PLACES) for n in ("mosquitto", "mosquitto_passwd", "openssl")}
CONFIG = """per_listener_settings true
user root
listener {open} 127.0.0.1
allow_anonymous true
listener {locked} 127.0.0.1
allow_anonymous false
password_file {folder}/passwords
listener {tls} 127.0.0.1
allow_anonymous true
certfile {folder}/cert.pem
keyfile {folder}/key.pem
"""
CERTIFICATE = [
    "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes",
    "-days", "2", "-subj", "/CN=it", "-addext", "subjectAltName=IP:127.0.0.1",
    "-keyout", "key.pem", "-out", "cert.pem",
]  # fmt: skip


class Broker:
    """A broker that can be stopped and started again on the same ports."""

    def __init__(self, folder: Path, until) -> None:
        self._folder, self._until = folder, until
        self.ports = dict(zip(("open", "locked", "tls"), _free_ports(3), strict=True))
        quiet = {"check": True, "capture_output": True, "cwd": folder}
        subprocess.run([PROGRAMS["openssl"], *CERTIFICATE], **quiet)
        passwords = folder / "passwords"
        passwords.write_text("me:open sesame\n")
        subprocess.run([PROGRAMS["mosquitto_passwd"], "-U", str(passwords)], **quiet)
        (folder / "broker.conf").write_text(CONFIG.format(folder=folder, **self.ports))
        self.certificate = str(folder / "cert.pem")
        self.start()

    def url(self, listener: str, topic: str) -> str:
        scheme = "mqtts" if listener == "tls" else "mqtt"
        return f"{scheme}://127.0.0.1:{self.ports[listener]}/{topic}"

    def start(self) -> None:
        self._process = subprocess.Popen(
            [PROGRAMS["mosquitto"], "-c", str(self._folder / "broker.conf")],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        self._until(lambda: all(_answers(port) for port in self.ports.values()))

    def stop(self) -> None:
        self._process.terminate()
        self._process.wait(60)

    def sender(self) -> "Sender":
        return Sender(self.ports["open"])


class Sender:
    """Publishes to the open listener; stays connected."""

    def __init__(self, port: int) -> None:
        self._there = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2)
        self._client.on_connect = lambda *_: self._there.set()
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        assert self._there.wait(60)

    def send(self, topic: str, payload: str | bytes, *, retain: bool = False) -> None:
        """Publish, and wait until the broker has it."""
        sent = self._client.publish(topic, payload, qos=1, retain=retain)
        sent.wait_for_publish(60)

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()


def _free_ports(count: int) -> list[int]:
    """Return ports outside of what the system gives away by itself: they stay free in between."""
    found: list[int] = []
    for number in random.sample(range(20_000, 30_000), 1000):
        with socket.socket() as one, contextlib.suppress(OSError):
            one.bind(("127.0.0.1", number))
            found.append(number)
        if len(found) == count:
            break
    return found


def _answers(port: int) -> bool:
    try:
        socket.create_connection(("127.0.0.1", port), timeout=5).close()
    except OSError:
        return False
    return True


@pytest.fixture
def broker(tmp_path, until):
    """Return a broker; without one the test is skipped, and fails where CI is set."""
    missing = [name for name, place in PROGRAMS.items() if place is None]
    if missing or os.name != "posix":
        says = f"no MQTT broker here: install {', '.join(missing)}"
        if os.environ.get("CI") == "true":
            pytest.fail(says)
        pytest.skip(says)
    made = Broker(tmp_path, until)
    yield made
    made.stop()


@pytest.fixture
def sender(broker):
    """Return somebody who publishes to it."""
    made = broker.sender()
    yield made
    made.close()
