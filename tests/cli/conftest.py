"""A probe reader on a pseudo-terminal."""

import os
import threading
import tty

import pytest


@pytest.fixture
def icy_probe():
    """A probe that shows 0.35 and 0.37 in turn, ten times a second."""
    master, slave = os.openpty()
    tty.setraw(master)
    tty.setraw(slave)
    stopping = threading.Event()

    def run():
        number = 0
        while not stopping.wait(0.1):
            number += 1
            os.write(master, b"0.%d,21.00,,\r\n" % (35 + 2 * (number % 2)))

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    yield os.ttyname(slave)
    stopping.set()
    thread.join()
    os.close(master)
    os.close(slave)
