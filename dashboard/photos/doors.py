"""The routes of photos: a picture of a run out, one in, one away.

What comes in is decoded and made small here; the recorder writes it. A picture is asked for by run
id and digest; no text of a request becomes a path.
"""

import base64
import re

import flask

from dashboard.answers import Committed
from dashboard.links import Links
from logger.control.client import GoneError, RefusedError
from logger.model.errors import BainlogError, InputError
from logger.store.photos.encoding import encoded

_SHA256 = re.compile(r"[0-9a-f]{64}", re.ASCII)
_KEEP_S = 86_400


def register(server: flask.Flask, links: Links) -> None:
    """Attach the routes to a server.

    Parameters
    ----------
    server : flask.Flask
        The server.
    links : Links
        The way to the recorder and the run files.
    """

    @server.get("/runs/<run_id>/photo/<sha256>")
    def _photo(run_id: str, sha256: str) -> flask.Response:
        try:
            picture = None
            if _SHA256.fullmatch(sha256):
                with links.open_run(run_id, tolerant=True) as view:
                    picture = view.photo(sha256)
        except (BainlogError, ValueError) as cause:
            return _plain(f"This run can't be opened. {cause}", 404)
        if picture is None:
            return _plain("The run has no such photo, or it is damaged.", 404)
        answer = flask.Response(picture, mimetype="image/jpeg")
        answer.headers["Cache-Control"] = f"private, max-age={_KEEP_S}, immutable"
        return answer

    @server.delete("/runs/<run_id>/photo/<sha256>")
    def _remove(run_id: str, sha256: str) -> flask.Response:
        if flask.request.headers.get("Sec-Fetch-Site") == "cross-site":
            return _plain("That page may not remove a photo here.", 403)
        try:
            links.send("remove_photo", {"run": run_id, "sha256": sha256}, Committed)
        except (InputError, RefusedError) as cause:
            return _plain(f"Not removed. {cause}", 400)
        except GoneError:
            said = "Not removed: no recorder runs for this data folder. Use"
            return _plain(f"{said}: bainlog photo {run_id} --remove N", 409)
        return _plain("Removed.", 200)

    @server.post("/runs/<run_id>/photo")
    def _add(run_id: str) -> flask.Response:
        if flask.request.headers.get("Sec-Fetch-Site") == "cross-site":
            return _plain("That page may not add a photo here.", 403)
        asked = flask.request.args
        try:
            picture = encoded(flask.request.get_data(), asked.get("name", "photo")[:80])
            of = {"piece": _piece(asked["piece"])} if asked.get("piece") else {}
            links.send(
                "photo",
                {
                    "run": run_id,
                    "text": asked.get("text", "").strip(),
                    "picture": base64.b64encode(picture).decode(),
                    **of,
                },
                Committed,
            )
        except (InputError, RefusedError) as cause:
            return _plain(f"Not saved. {cause}", 400)
        except GoneError:
            said = "Not saved: no recorder runs for this data folder. Use"
            return _plain(f"{said}: bainlog photo {run_id} FILE", 409)
        return _plain("Saved.", 200)


def _piece(text: str) -> int:
    if not text.isdecimal() or len(text) > 6:
        raise InputError("piece", repr(text[:20]), "give the number of a piece")
    return int(text)


def _plain(text: str, status: int) -> flask.Response:
    return flask.Response(text + "\n", status=status, mimetype="text/plain")
