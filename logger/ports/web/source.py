"""What the port threads need of a port, where the bytes come over the network and none are sent.

The base of `polled` and `messages`, which fetch the bytes.
"""

from logger.ports.errors import PortLostError


class NetworkPort:
    """A port that is only read.

    Parameters
    ----------
    url : str
        Its address.
    read_s : float
        Longest wait of a read [s].
    """

    WHAT = "an address"
    """What it is, for messages."""

    def __init__(self, url: str, *, read_s: float) -> None:
        self.port = url
        self.timeout = read_s
        self._buffer = b""

    @property
    def in_waiting(self) -> int:
        """Bytes that are there already."""
        return len(self._buffer)

    def read(self, size: int = 1) -> bytes:
        """Return up to `size` bytes; nothing after the wait."""
        if not self._buffer:
            self._fetch()
        found, self._buffer = self._buffer[:size], self._buffer[size:]
        return found

    def write(self, data: bytes) -> int:
        """Take a question and do nothing: nothing is sent."""
        return len(data)

    @property
    def cts(self) -> bool:
        """Contact of a foot switch, which the network has not.

        Raises
        ------
        PortLostError
            Always.
        """
        raise PortLostError(f"{self.port}: {self.WHAT} has no contact for a foot switch")

    dsr = ri = cd = cts

    def close(self) -> None:
        """Let what was read go."""
        self._buffer = b""

    def _fetch(self) -> None:
        """Put what comes within the wait into the buffer."""
        raise NotImplementedError
