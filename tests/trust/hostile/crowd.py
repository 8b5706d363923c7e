"""A process that connects to a port without pause, and holds the newest 200 connections.

On loopback, to a server of the test's own.
"""

import contextlib
import subprocess
import sys
from collections.abc import Iterator

_CROWD = """
import collections, socket, sys
lines = collections.deque(maxlen=200)
print("begun", flush=True)
while True:
    try:
        lines.append(socket.create_connection(("127.0.0.1", int(sys.argv[1])), 1))
    except OSError:
        lines.clear()
"""


@contextlib.contextmanager
def crowd(port: int) -> Iterator[None]:
    """Let it connect while the block runs."""
    with subprocess.Popen(
        [sys.executable, "-c", _CROWD, str(port)], stdout=subprocess.PIPE
    ) as process:
        try:
            assert process.stdout is not None
            process.stdout.readline()
            yield
        finally:
            process.kill()
