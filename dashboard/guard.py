"""Who may ask: host names, the token of the local network, and the headers of each answer.

Holds for every path, also those of Dash itself. The server is meant for this machine alone; with
`lan` other machines may ask when they hold the token.

- A Host header that is not ours is answered 400: a page of another site could otherwise reach the
  server by pointing its own name at this machine.
- With a token, the first visit carries it once in the address; it moves into a cookie that scripts
  can't read and other sites can't send, and leaves the address bar.
- Without it a page asks for the token: the code on a batch card holds none.
- A POST that says it comes from another site is answered 403.
"""

import hmac
import ipaddress
from urllib.parse import urlencode, urlsplit

import flask

COOKIE = "bainlog_token"
LOOPBACK = ("127.0.0.1", "localhost")
_KEEP_S = 30 * 24 * 3600
_LONGEST_FORM = 2_000
_FORM = """<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1"><title>bainlog: token</title>
<style>body { font: 18px/1.5 system-ui, sans-serif; margin: 0 auto; padding: 24px; max-width: 30rem;
color: #1e1812; background: #fff; } input, button { font: inherit; min-height: 48px; width: 100%;
box-sizing: border-box; margin: 8px 0; }</style></head><body><h1>Token</h1><!-- wrong -->
<p>This screen opens with the token that bainlog printed where it was started. This device then
remembers it until bainlog is started again.</p>
<form method="post"><label>Token, or the whole address
<input name="token" autocomplete="off" autocapitalize="none" spellcheck="false" required autofocus>
</label><button>Open</button></form></body></html>
"""


def guard(server: flask.Flask, *, token: str | None, lan: bool, scripts: list[str]) -> None:
    """Set the checks and headers on a server.

    Parameters
    ----------
    server : Flask
        The server below Dash.
    token : str or None
        Needed on every path when given.
    lan : bool
        Whether addresses of the local network are names of ours.
    scripts : list of str
        Hashes of the page's inline scripts, for the content policy.

    Raises
    ------
    ValueError
        If `lan` is asked for without a token.
    """
    if lan and not token:
        raise ValueError("the screen answers the local network only with a token")
    if not lan:
        server.config["TRUSTED_HOSTS"] = list(LOOPBACK)
    policy = _policy(scripts)

    @server.before_request
    def _check() -> flask.typing.ResponseReturnValue | None:
        if lan and not _is_address(flask.request.host):
            return _plain("This machine does not answer to that name. Use its number.", 400)
        origin = flask.request.headers.get("Origin")
        foreign = origin is not None and urlsplit(origin).netloc != flask.request.host
        if flask.request.method not in ("GET", "HEAD") and foreign:
            return _plain("That page may not send commands here.", 403)
        return None if token is None else _check_token(token)

    @server.after_request
    def _headers(answer: flask.Response) -> flask.Response:
        answer.headers["Content-Security-Policy"] = policy
        answer.headers.setdefault("Referrer-Policy", "no-referrer")
        answer.headers["X-Content-Type-Options"] = "nosniff"
        answer.headers["X-Frame-Options"] = "DENY"
        answer.headers["Cross-Origin-Opener-Policy"] = "same-origin"
        answer.headers["Permissions-Policy"] = "camera=(), microphone=(), geolocation=()"
        if flask.request.path.startswith("/_dash-update"):
            answer.headers["Cache-Control"] = "no-store"
        if flask.request.path.startswith("/assets/") and "m" in flask.request.args:
            # The address of a changed file has another m: this one need not be asked for again.
            answer.headers["Cache-Control"] = f"private, max-age={_KEEP_S}, immutable"
        return answer


def _check_token(token: str) -> flask.typing.ResponseReturnValue | None:
    request = flask.request
    given = request.args.get("token") if request.method == "GET" else None
    if given is not None and _same(given, token):
        return _let_in(token)
    if _same(request.cookies.get(COOKIE, ""), token):
        return None
    typed = _typed()
    if typed is not None and _same(typed, token):
        return _let_in(token)
    return _ask(wrong=given is not None or typed is not None)


def _let_in(token: str) -> flask.typing.ResponseReturnValue:
    """Go on to what was asked for, with the token in a cookie and out of the address."""
    request = flask.request
    rest = urlencode([pair for pair in request.args.items(multi=True) if pair[0] != "token"])
    place = f"/{request.path.lstrip('/')}" + (f"?{rest}" if rest else "")
    answer = flask.redirect(place, code=303)
    answer.set_cookie(COOKIE, token, max_age=_KEEP_S, httponly=True, samesite="Strict", path="/")
    return answer


def _typed() -> str | None:
    """Return the token that was typed into the form, or pasted with the address before it."""
    request = flask.request
    if request.mimetype != "application/x-www-form-urlencoded":
        return None
    if (request.content_length or 0) > _LONGEST_FORM:
        return None
    typed = request.form.get("token")
    return None if typed is None else typed.rpartition("token=")[2].strip()


def _ask(*, wrong: bool) -> flask.Response:
    """Ask for the token: a sheet's code on paper, for one, opens a page without it."""
    text = _FORM.replace("<!-- wrong -->", "<p><b>That is not the token.</b></p>" if wrong else "")
    answer = flask.Response(text, status=403, mimetype="text/html")
    # With no referrer at all a browser says "null" for the origin of the form it sends.
    answer.headers["Referrer-Policy"] = "same-origin"
    return answer


def _same(given: str, token: str) -> bool:
    return hmac.compare_digest(given.encode(), token.encode())


def _is_address(host: str) -> bool:
    """Whether a Host header is a number (which no other site can point at us) or localhost."""
    name = urlsplit(f"//{host}").hostname or ""
    if name == "localhost":
        return True
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def _plain(text: str, status: int) -> flask.Response:
    return flask.Response(text + "\n", status=status, mimetype="text/plain")


def _policy(scripts: list[str]) -> str:
    return "; ".join(
        (
            "default-src 'self'",
            f"script-src 'self' {' '.join(scripts)}".rstrip(),
            "style-src 'self' 'unsafe-inline'",
            "img-src 'self' data: blob:",
            "font-src 'self'",
            "connect-src 'self'",
            "object-src 'none'",
            "base-uri 'none'",
            "form-action 'self'",
            "frame-ancestors 'none'",
        )
    )
