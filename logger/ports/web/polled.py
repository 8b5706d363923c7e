"""An instrument that shows its values on a web page, read as a port that prints one line a second.

Each answer becomes one line, so that line formats, gaps, raw bytes and replay are those of a port.
Only GET, no redirection, no proxy, one bounded answer. What the server asks for as a password comes
from ``credentials`` and goes to that server only; it is kept nowhere.
"""

import http.client
import time
import urllib.error
import urllib.request
from urllib.parse import urlsplit

from logger.ports.errors import NoPermissionError, NoSuchPortError, PortLostError
from logger.ports.web.credentials import secret_of, variable_of
from logger.ports.web.source import NetworkPort

EVERY_S = 1.0
"""Time between two questions [s]."""
ANSWER_S = 3.0
"""Longest wait for an answer [s]."""
LONGEST = 8192
"""Longest answer [bytes]."""
TOKEN = "HTTP_TOKEN"  # noqa: S105  # what it is called, not what it is

HANDLERS = (
    urllib.request.HTTPHandler,
    urllib.request.HTTPSHandler,
    urllib.request.HTTPErrorProcessor,
    urllib.request.HTTPDefaultErrorHandler,
)
"""No proxy and no redirection: a token must not go elsewhere, nor a value come from there."""


class PolledPort(NetworkPort):
    """What the port threads need of a port, from a web page.

    Parameters
    ----------
    url : str
        Address of the page.
    read_s : float
        Longest wait of a read [s], but for an answer under way.

    Raises
    ------
    PortError
        If nothing answers there.
    """

    WHAT = "a web page"

    def __init__(self, url: str, *, read_s: float) -> None:
        super().__init__(url, read_s=read_s)
        self._opener = urllib.request.OpenerDirector()
        for handler in HANDLERS:
            self._opener.add_handler(handler())
        self._next_s = time.monotonic() + EVERY_S
        self._buffer = b"\n" + self._asked()

    def _fetch(self) -> None:
        """Ask anew when it is time."""
        wait_s = self._next_s - time.monotonic()
        time.sleep(max(0.0, min(self.timeout, wait_s)))
        if wait_s > self.timeout:
            return
        self._next_s = max(self._next_s + EVERY_S, time.monotonic())
        self._buffer = self._asked()

    def _asked(self) -> bytes:
        """Return the answer as one line."""
        request = urllib.request.Request(self.port, headers=_headers(self.port))  # noqa: S310  # http or https
        try:
            with self._opener.open(request, timeout=ANSWER_S) as answer:
                data: bytes = answer.read(LONGEST + 1)
        except urllib.error.HTTPError as cause:
            cause.close()
            raise _refused(self.port, cause.code) from cause
        except (OSError, http.client.HTTPException) as cause:
            raise NoSuchPortError(
                f"{self.port}: does not answer; check the address, and that it is on"
            ) from cause
        if len(data) > LONGEST:
            raise PortLostError(f"{self.port}: answers with more than {LONGEST} bytes; name a page "
                                "with the values only")  # fmt: skip
        return b" ".join(data.split()) + b"\n"


def _headers(url: str) -> dict[str, str]:
    token = secret_of(TOKEN, urlsplit(url).hostname or "")
    return {"Authorization": f"Bearer {token}"} if token else {}


def _refused(url: str, code: int) -> NoPermissionError | NoSuchPortError:
    if code in (401, 403):
        host = urlsplit(url).hostname or ""
        name = variable_of(TOKEN, host)
        if secret_of(TOKEN, host):
            return NoPermissionError(f"{url}: the token set as {name} was refused; correct it")
        return NoPermissionError(f"{url}: needs a token; set it as {name} in the environment")
    if 300 <= code < 400:
        return NoSuchPortError(f"{url}: redirects; write the address it redirects to")
    return NoSuchPortError(f"{url}: answers {code}; check the path")
