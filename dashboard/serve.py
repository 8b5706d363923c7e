"""Answers requests for the screen: one process, a few threads, this machine alone by default.

The address is bound before anything is said about it, so that a busy port can be told and the next
free one taken.
"""

import secrets
import socket
import threading
import webbrowser
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dashboard.doors.address import LOOPBACK, Bound, bind, own_address
from dashboard.links import Links
from dashboard.memory import give_back
from dashboard.tryout import TryOut

if TYPE_CHECKING:
    from dashboard.doors.waiting import Waiting

PORT = 8420


class Screen:
    """A screen that listens; ``run`` answers until ``close``.

    Attributes
    ----------
    url : str
        Where it answers, with the token if there is one.
    port : int
        The port it has.
    moved : bool
        Whether the wanted port was busy.
    """

    def __init__(self, app: Any, listener: socket.socket, url: str, *, moved: bool) -> None:
        from dashboard.doors.visitors import Visitors

        self.url = url
        self.port = int(listener.getsockname()[1])
        self.moved = moved
        self._server = Visitors(app.server, listener)

    def run(self) -> None:
        """Answer requests; returns after ``close``."""
        self._server.run()

    def close(self) -> None:
        """Stop answering."""
        self._server.close()


def open_screen(
    data_dir: Path,
    *,
    port: int = PORT,
    lan: bool = False,
    token: str | None = None,
    try_out: TryOut | None = None,
    bound: Bound | None = None,
    instead: Mapping[str, str] | None = None,
) -> Screen:
    """Bind an address and build the screen behind it.

    Parameters
    ----------
    data_dir : Path
        The data folder.
    port : int
        Wanted port; when it is busy, the next free one is taken. 0 takes any.
    lan : bool
        Answer the local network too; a token is made when none is given.
    token : str or None
        Asked of every request.
    try_out : TryOut or None
        Starts the virtual bench; see ``dashboard.tryout``.
    bound : Bound or None
        What `bind` gave, where the address was bound before.
    instead : mapping
        Alternatives that the start dialog has chosen already, by ingredient.

    Raises
    ------
    InputError
        If no port is free.
    """
    from dashboard.app import build_app

    if lan and token is None:
        token = secrets.token_urlsafe(24)
    host = "0.0.0.0" if lan else LOOPBACK  # noqa: S104 - asked for by the person, with a token
    listener, moved = bound if bound is not None else bind(host, port)
    got = int(listener.getsockname()[1])
    shown = own_address() if lan else LOOPBACK
    url = f"http://{shown}:{got}/" + (f"?token={token}" if token else "")
    try:
        links = Links(data_dir, try_out=try_out, instead=instead)
        app = build_app(data_dir, token=token, lan=lan, links=links)
    except BaseException:
        listener.close()
        raise
    return Screen(app, listener, url, moved=moved)


def serve(
    data_dir: Path,
    *,
    port: int = PORT,
    lan: bool = False,
    token: str | None = None,
    open_browser: bool = False,
    say: Callable[[str], None] = print,
    try_out: TryOut | None = None,
    waiting: "Waiting | None" = None,
    bound: Bound | None = None,
    instead: Mapping[str, str] | None = None,
) -> None:
    """Answer requests until Ctrl-C or the process is told to stop.

    Parameters
    ----------
    data_dir, port, lan, token, try_out, bound, instead
        As for `open_screen`.
    waiting : Waiting or None
        Answers meanwhile; closed once the screen can answer.
    open_browser : bool
        Open the page in the person's browser once it answers.
    say : callable
        Told where the screen is, in a line.
    """
    give_back()
    screen = open_screen(
        data_dir, port=port, lan=lan, token=token, try_out=try_out, bound=bound, instead=instead
    )
    if waiting is not None:
        waiting.close()
    try:  # from the first line on: a reader of it may end the command at once
        if screen.moved:
            say(f"Port {port} is in use; the screen is at port {screen.port}.")
        say(f"The screen is at {screen.url}")
        if lan:
            say("Other devices of this network can open it with that address and its token.")
        if open_browser:
            threading.Thread(target=webbrowser.open, args=(screen.url,), daemon=True).start()
        screen.run()
    except KeyboardInterrupt:
        say("The screen is closed.")
    finally:
        screen.close()
