"""A picture of a camera becomes a photo as a run file keeps it: upright, small, no metadata.

Runs where the picture comes in, in a command or in the screen, never in the recorder: decoding
bytes from outside must not be able to end a recording. The type of a file is recognised from its
content. A colour profile is not applied.
"""

import io
import warnings

from PIL import Image, ImageOps, UnidentifiedImageError

from logger.model.errors import InputError
from logger.model.photos.jpeg import MOST_BYTES, MOST_PX, require_kept_form

MOST_GIVEN_BYTES = 20_000_000
"""Largest file that is read [bytes]: a camera's JPEG has some ten million."""
MOST_GIVEN_PX = {"JPEG": 64_000_000, "PNG": 16_000_000, "WEBP": 16_000_000}
"""Most pixels by format. A JPEG is read at a fraction of its size, the others as a whole."""
_QUALITIES = (82, 70, 55, 40)
_HEIC = (b"ftypheic", b"ftypheix", b"ftypmif1", b"ftyphevc", b"ftypavif")
_TAKEN = "give a JPEG, PNG or WebP"


def encoded(data: bytes, where: str = "photo") -> bytes:
    """Return a picture as the photo that is kept.

    Parameters
    ----------
    data : bytes
        Of the file.
    where : str
        Its name, for messages.

    Raises
    ------
    InputError
        If it is not a picture that can be read, damaged, or has too many bytes or pixels.
    """
    if len(data) > MOST_GIVEN_BYTES:
        found = f"a file of {len(data) / 1e6:.0f} MB"
        raise InputError(where, found, f"give at most {MOST_GIVEN_BYTES / 1e6:.0f} MB")
    if not data:
        raise InputError(where, "an empty file", _TAKEN)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # ours is the stricter limit, below
            with Image.open(io.BytesIO(data), formats=tuple(MOST_GIVEN_PX)) as picture:
                return _kept(picture, where)
    except InputError:
        raise
    except UnidentifiedImageError as cause:
        raise InputError(where, _unknown(data), _TAKEN) from cause
    except Image.DecompressionBombError as cause:
        raise InputError(where, "a picture with far too many pixels", _wanted("JPEG")) from cause
    except (OSError, ValueError, SyntaxError, ArithmeticError, LookupError, MemoryError) as cause:
        found = "a damaged picture, or only a part of one"
        raise InputError(where, found, "take the photo again, or use a copy of it") from cause


def _wanted(form: str) -> str:
    return f"give a {form} of at most {MOST_GIVEN_PX[form] / 1e6:.0f} million pixels"


def _unknown(data: bytes) -> str:
    if any(mark in data[:32] for mark in _HEIC):
        return "a HEIC or AVIF picture, which can't be read here"
    return "not a picture that can be read"


def _kept(picture: Image.Image, where: str) -> bytes:
    form = picture.format or ""
    width, height = picture.size
    if width * height > MOST_GIVEN_PX[form]:
        raise InputError(where, f"{width} x {height} px", _wanted(form))
    picture.draft("RGB", (MOST_PX, MOST_PX))
    small = ImageOps.exif_transpose(_reduced(picture))
    bare = _opaque(small)
    for quality in _QUALITIES:
        file = io.BytesIO()
        bare.save(file, "JPEG", quality=quality, optimize=True)
        if file.tell() <= MOST_BYTES:
            break
    kept = file.getvalue()
    require_kept_form(kept, where)
    return kept


def _reduced(picture: Image.Image) -> Image.Image:
    """Return it with no side longer than is kept; its orientation is still to be applied."""
    picture.thumbnail((MOST_PX, MOST_PX), Image.Resampling.LANCZOS)
    return picture


def _opaque(picture: Image.Image) -> Image.Image:
    """Return the bare pixels on white: nothing of what the file said beside them."""
    if picture.mode in ("RGBA", "LA", "PA") or "transparency" in picture.info:
        over = picture.convert("RGBA")
        ground = Image.new("RGB", over.size, "white")
        ground.paste(over, mask=over.getchannel("A"))
        return ground
    flat = picture.convert("RGB")
    flat.info.clear()
    return flat
