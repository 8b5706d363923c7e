"""A page that stands at the screen's address while the screen is being prepared.

Loading the screen's libraries and unpacking examples takes a few seconds; a browser that was opened
meanwhile is shown how far it is. Answers every request alike, with what was said last, and knows
nothing of runs. The page asks again by itself and reloads once something else answers: the screen,
which takes over the same socket, so that no visitor is turned away between the two.
"""

import contextlib
import html
import json
import select
import socket
import threading

READ_BYTES = 4096
ANSWER_S = 2.0
"""A visitor who does not send or read is given up after this [s]."""
ASK = b"/preparing"
"""Path at which the page asks how far it is."""
PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>bainlog</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>
:root { color-scheme: light dark; }
body { margin: 0; min-height: 100vh; display: grid; place-content: center; gap: 14px;
  font: 20px/1.4 "Segoe UI", "Helvetica Neue", "Liberation Sans", Arial, sans-serif;
  background: light-dark(#f3ebde, #16130f); color: light-dark(#1e1812, #f7efe3); padding: 24px; }
h1 { margin: 0; font-size: 34px; letter-spacing: -0.02em; }
h1 span { color: light-dark(#8b1545, #ff9dbd); }
p { margin: 0; min-height: 1.4em; } progress { width: min(420px, 80vw); height: 10px;
  accent-color: light-dark(#8b1545, #ff9dbd); }
</style></head><body>
<h1><span>bain</span>log</h1><p role="status">@SAYS@</p>
<progress aria-label="Getting ready"></progress>
<script>
const ask = async () => {
  try {
    const answer = await fetch("@ASK@", { cache: "no-store" });
    const told = await answer.json().catch(() => null);
    if (!told || told.preparing === undefined) return location.reload();
    document.querySelector("p").textContent = told.preparing;
  } catch (cause) { /* the screen is taking over: it answers soon */ }
  setTimeout(ask, 250);
};
setTimeout(ask, 250);
</script></body></html>
"""


class Waiting:
    """Answers on a bound socket until it is closed; the socket stays open for who comes next.

    Parameters
    ----------
    listener : socket
        Bound and listening.
    """

    def __init__(self, listener: socket.socket) -> None:
        self._listener = listener
        self._says = "Getting ready…"
        self._waker, self._woken = socket.socketpair()
        self._thread = threading.Thread(target=self._run, name="waiting", daemon=True)
        self._thread.start()

    def say(self, text: str) -> None:
        """Show another line."""
        self._says = text

    def close(self) -> None:
        """Stop answering; returns once nobody is being answered any more."""
        if self._waker.fileno() < 0:
            return
        self._waker.send(b".")
        self._thread.join()
        self._waker.close()
        self._woken.close()

    def _run(self) -> None:
        self._listener.setblocking(False)
        while True:
            ready, _, _ = select.select([self._listener, self._woken], [], [])
            if self._woken in ready:
                return
            with contextlib.suppress(OSError):
                visitor, _ = self._listener.accept()
                with visitor:
                    self._answer(visitor)

    def _answer(self, visitor: socket.socket) -> None:
        visitor.settimeout(ANSWER_S)
        asked = visitor.recv(READ_BYTES).split(b" ", 2)
        says = self._says
        if len(asked) > 1 and asked[1] == ASK:
            kind, body = "application/json", json.dumps({"preparing": says})
        else:
            page = PAGE.replace("@ASK@", ASK.decode())
            kind, body = "text/html; charset=utf-8", page.replace("@SAYS@", html.escape(says))
        content = body.encode()
        head = (
            "HTTP/1.1 200 OK",
            f"Content-Type: {kind}",
            f"Content-Length: {len(content)}",
            "Cache-Control: no-store",
            "X-Content-Type-Options: nosniff",
            "Connection: close",
        )
        visitor.sendall("\r\n".join([*head, "", ""]).encode() + content)
