"""An instrument that publishes its values to an MQTT broker, read as a port that prints lines.

Each message becomes a line, so that line formats, gaps, raw bytes and replay are those of a port:

- a payload: one line, whatever line breaks it has
- a topic with ``+`` or ``#``: ``NAME: `` before the payload, NAME being the topic from the first
  such level on
- a payload that is too long: a line that says so in its place, which no line format reads

A retained message says what was published some time ago and is dropped. Nothing is published, and
nothing is waited for that was sent while nobody listened (quality of service 0, clean session). The
client runs in the thread of its port. Name and password come from ``credentials``.

References
----------
MQTT Version 3.1.1 (OASIS), sections 3.1 (clean session), 3.2.2.3 (return codes), 3.3.1.3 (retain),
4.7.1 (wildcards).
"""

import contextlib
import re
import select
import ssl
import time
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, urlsplit

from logger.model.errors import PortError
from logger.ports.errors import NoPermissionError, NoSuchPortError, PortLostError
from logger.ports.web.credentials import secret_of, variable_of
from logger.ports.web.source import NetworkPort

if TYPE_CHECKING:
    from paho.mqtt.client import Client, MQTTMessage

ANSWER_S = 3.0
"""Longest wait for the broker to answer [s]."""
ALIVE_S = 10
"""A broker that is silent for two of these is lost [s]."""
LONGEST = 8192
"""Longest message that is taken [bytes]."""
MOST = 1_000_000
"""Longest message that is let pass [bytes]; a longer one fills memory and ends the connection."""
PORTS = {"mqtt": 1883, "mqtts": 8883}
"""As registered with IANA."""


class _ClosingSocket(ssl.SSLSocket):
    """Closes itself when nothing comes of it; the client would forget it open."""

    def do_handshake(self, block: bool = False) -> None:
        """Shake hands, or close."""
        try:
            super().do_handshake(block)
        except OSError:
            self.close()
            raise


class MessagePort(NetworkPort):
    """What the port threads need of a port, from a topic of a broker.

    Parameters
    ----------
    url : str
        ``mqtt://host:port/topic``, or ``mqtts`` for TLS.
    read_s : float
        Longest wait of a read [s].

    Raises
    ------
    PortError
        If no broker answers there, or it refuses.
    """

    WHAT = "a topic"

    def __init__(self, url: str, *, read_s: float) -> None:
        super().__init__(url, read_s=read_s)
        scheme, _, rest = url.partition("://")
        place, _, topic = rest.partition("/")
        parts = urlsplit(f"//{place}")
        self._host = parts.hostname or ""
        self._topic = unquote(topic)
        self._buffer = b"\n"
        self._too_long = False
        self._answers: dict[str, Any] = {}
        self._client = _new_client(url)
        self._client.on_connect = lambda *a: self._answers.update(connected=a[3])
        self._client.on_subscribe = lambda *a: self._answers.update(subscribed=a[3][0])
        self._client.on_message = self._keep
        try:
            self._begin(scheme.lower(), parts.port or PORTS[scheme.lower()])
        except PortError:
            self.close()
            raise

    def close(self) -> None:
        """Say goodbye to the broker, and let what was read go."""
        super().close()
        socket = self._client.socket()
        if socket is not None:
            with contextlib.suppress(OSError):
                self._client.disconnect()
            socket.close()

    def _fetch(self) -> None:
        self._work(self.timeout)

    def _begin(self, scheme: str, number: int) -> None:
        """Connect and subscribe."""
        user = secret_of("MQTT_USER", self._host)
        if user:
            self._client.username_pw_set(user, secret_of("MQTT_PASSWORD", self._host))
        ca = variable_of("MQTT_CA", self._host)
        try:
            if scheme == "mqtts":
                how = ssl.create_default_context(cafile=secret_of("MQTT_CA", self._host))
                how.sslsocket_class = _ClosingSocket
                self._client.tls_set_context(how)
            self._client.connect(self._host, number, keepalive=ALIVE_S)
        except ssl.SSLCertVerificationError as cause:
            raise NoPermissionError(
                f"{self.port}: its certificate is not trusted ({cause.verify_message}); name the "
                f"file of the authority that signed it as {ca} in the environment"
            ) from cause
        except ssl.SSLError as cause:
            raise NoSuchPortError(f"{self.port}: does not speak TLS; try mqtt://") from cause
        except FileNotFoundError as cause:
            raise NoSuchPortError(f"{self.port}: {ca} names a file that is not there") from cause
        except OSError as cause:
            raise NoSuchPortError(
                f"{self.port}: no broker answers; check the address, and that it is on"
            ) from cause
        code = self._answer("connected")
        if code.is_failure:
            raise self._refused(str(code))
        self._client.subscribe(self._topic, 0)
        if self._answer("subscribed").is_failure:
            raise NoPermissionError(f"{self.port}: the broker does not let you read this topic")

    def _answer(self, what: str) -> Any:
        """Return the broker's answer to what was sent."""
        deadline = time.monotonic() + ANSWER_S
        while what not in self._answers:
            left_s = deadline - time.monotonic()
            if left_s <= 0:
                raise NoSuchPortError(f"{self.port}: what answers there is not a broker")
            self._work(left_s)
        return self._answers[what]

    def _refused(self, reason: str) -> NoPermissionError:
        user, word = (variable_of(f"MQTT_{k}", self._host) for k in ("USER", "PASSWORD"))
        if secret_of("MQTT_USER", self._host):
            return NoPermissionError(
                f"{self.port}: {user} and {word} are set, but the broker refused them ({reason}); "
                "correct them"
            )
        return NoPermissionError(
            f"{self.port}: refused ({reason}); set {user} and {word} in the environment"
        )

    def _work(self, wait_s: float) -> None:
        """Let the client receive what comes within a wait."""
        socket = self._client.socket()
        if socket is None:
            raise self._lost("the broker closed the connection")
        pending = getattr(socket, "pending", None)
        try:
            ready = bool(pending and pending()) or bool(select.select([socket], [], [], wait_s)[0])
            if ready:
                self._client.loop_read()
            self._client.loop_misc()
        except (OSError, ValueError) as cause:
            raise self._lost(type(cause).__name__) from cause
        if "connected" in self._answers and self._answers["connected"].is_failure:
            return  # told by who waits for it
        if self._client.socket() is None:
            raise self._lost("the broker went away")
        if self._too_long or self._client._in_packet["remaining_length"] > MOST:
            raise self._lost(f"a message of more than {MOST} bytes; name another topic")

    def _lost(self, reason: str) -> PortLostError:
        return PortLostError(f"{self.port}: lost: {reason}; it is tried again automatically")

    def _keep(self, _client: "Client", _data: object, message: "MQTTMessage") -> None:
        """Keep a message as a line."""
        self._too_long |= len(message.payload) > MOST
        if message.retain or self._too_long:
            return
        payload = bytes(message.payload)
        if len(payload) > LONGEST:
            payload = f"(message of {len(payload)} bytes left out)".encode()
        self._buffer += line_of(self._topic, message.topic, payload)


def line_of(wanted: str, topic: str, payload: bytes) -> bytes:
    """Return a message as a line.

    Parameters
    ----------
    wanted : str
        The topic that was asked for, perhaps with wildcards.
    topic : str
        The topic of the message.
    payload : bytes
        The message.
    """
    text = re.sub(rb"\s*[\r\n]+\s*", b" ", payload.rstrip(b"\r\n\x00"))
    levels = wanted.split("/")
    wild = next((n for n, level in enumerate(levels) if level in ("+", "#")), None)
    if wild is None:
        return text + b"\r\n"
    name = "/".join(topic.split("/")[wild:])
    return f"{name}: ".encode() + text + b"\r\n"


def _new_client(url: str) -> "Client":
    """Return the client of the optional package; it is imported only where it is needed."""
    try:
        from paho.mqtt.client import Client
        from paho.mqtt.enums import CallbackAPIVersion
    except ImportError as cause:
        raise PortError(
            f"{url}: MQTT needs one more package; run pip install 'bainlog[mqtt]'"
        ) from cause
    client = Client(CallbackAPIVersion.VERSION2, reconnect_on_failure=False)
    client.connect_timeout = ANSWER_S
    return client
