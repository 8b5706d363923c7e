"""What is known of the photos of a run, from its events.

Plain values. The picture itself is kept beside the events under its SHA-256, which the event names:
so the seal of the event also holds for the picture.
"""

import hashlib
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from logger.model.event import PHOTO, REMOVE_PHOTO, Event
from logger.model.photos.jpeg import require_kept_form

_SHA256 = re.compile(r"[0-9a-f]{64}", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoRow:
    """A photo that was added to a run.

    Attributes
    ----------
    sha256 : str
        Digest of the picture (FIPS 180-4), in hexadecimal.
    width, height : int
        Of the picture [px].
    piece : int or None
        Which piece it shows; None for the batch.
    text : str
        What it shows, in a person's words.
    t_s : float
        When it was added, on the run's clock [s]; its end for one that was added later.
    """

    sha256: str
    width: int
    height: int
    piece: int | None = None
    text: str = ""
    t_s: float = 0.0


def photos_said(events: Iterable[Event]) -> tuple[PhotoRow, ...]:
    """Return the photos of a run in the order they were added, each picture once.

    One that was removed is left out, unless it was added again.

    Parameters
    ----------
    events : iterable of Event
        All events of the run file. Of one picture the last event counts.
    """
    found: dict[str, PhotoRow] = {}
    for event in events:
        row = _row(event) if event.kind == PHOTO else None
        if row is not None:
            found[row.sha256] = row
        elif event.kind == REMOVE_PHOTO:
            found.pop(str(event.data.get("sha256")), None)
    return tuple(found.values())


def photo_data(picture: bytes, piece: int | None = None) -> dict[str, Any]:
    """Return what the event of a photo says of its picture.

    Parameters
    ----------
    picture : bytes
        As ``jpeg.require_kept_form`` takes it.
    piece : int or None
        Which piece it shows.

    Raises
    ------
    InputError
        If the picture has another form.
    """
    size = require_kept_form(picture)
    of = {} if piece is None else {"piece": piece}
    digest = hashlib.sha256(picture).hexdigest()
    return {"sha256": digest, "width": size.width, "height": size.height, **of}


def _row(event: Event) -> PhotoRow | None:
    data, piece = event.data, event.data.get("piece")
    sha256, sides = data.get("sha256"), (data.get("width"), data.get("height"))
    if not isinstance(sha256, str) or not _SHA256.fullmatch(sha256):
        return None
    width, height = (side if isinstance(side, int) and side > 0 else 1 for side in sides)
    return PhotoRow(
        sha256=sha256,
        width=width,
        height=height,
        piece=piece if isinstance(piece, int) else None,
        text=event.text,
        t_s=event.t_ns / 1e9,
    )


def photo_title(photo: PhotoRow) -> str:
    """Return what a photo is called: ``"Piece 3: burst at the seam"``."""
    of = "Batch" if photo.piece is None else f"Piece {photo.piece}"
    return f"{of}: {photo.text}" if photo.text else of
