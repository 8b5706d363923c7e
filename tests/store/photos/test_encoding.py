"""A picture of a camera becomes a small upright JPEG without metadata, or is refused by name."""

import io

import pytest
from PIL import Image

from logger.model.errors import InputError
from logger.model.photos.jpeg import MOST_BYTES, MOST_PX, require_kept_form
from logger.store.photos import encoding
from logger.store.photos.encoding import encoded


def picture(form, size=(60, 40), mode="RGB", colour="red", **more):
    file = io.BytesIO()
    Image.new(mode, size, colour).save(file, form, **more)
    return file.getvalue()


def shown(data):
    with Image.open(io.BytesIO(data)) as made:
        made.load()
        return made


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_what_is_read_comes_out_as_a_plain_jpeg(form):
    kept = encoded(picture(form), "shot")
    assert require_kept_form(kept).width == 60
    assert shown(kept).format == "JPEG"


def test_position_and_maker_are_gone_and_the_picture_is_upright():
    exif = Image.Exif()
    exif[0x0112] = 6  # orientation: 90 degrees to the right (Exif 2.32, table 4)
    exif[0x010F] = "maker"
    exif.get_ifd(0x8825)[2] = (52.0, 31.0, 12.0)
    given = Image.new("RGB", (60, 40), "white")
    given.paste("black", (0, 0, 10, 10))  # a corner that shows which way is up
    file = io.BytesIO()
    given.save(file, "JPEG", exif=exif, comment=b"secret", quality=95)
    kept = encoded(file.getvalue())
    made = shown(kept)
    assert made.size == (40, 60)
    assert made.getpixel((37, 2))[0] < 60 < 200 < made.getpixel((2, 2))[0]
    assert not made.getexif()
    assert b"maker" not in kept
    assert b"secret" not in kept


def test_a_large_picture_is_made_as_small_as_one_that_is_kept():
    noise = Image.effect_noise((2400, 1000), 120).convert("RGB")
    file = io.BytesIO()
    noise.save(file, "JPEG", quality=95)
    kept = encoded(file.getvalue())
    assert max(shown(kept).size) == MOST_PX
    assert len(kept) <= MOST_BYTES < len(file.getvalue())


def test_what_can_be_seen_through_is_on_white():
    kept = encoded(picture("PNG", mode="RGBA", colour=(0, 0, 0, 0)))
    assert min(shown(kept).getpixel((5, 5))) > 250


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (b"", "an empty file"),
        (b"MZ\x90 not a picture", "not a picture that can be read"),
        (b"\x00\x00\x00\x18ftypheic\x00\x00", "HEIC or AVIF"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not a picture that can be read"),
        (picture("GIF", mode="P"), "not a picture that can be read"),
        (picture("JPEG", (400, 400))[:300], "damaged"),
        (picture("PNG", (400, 400))[:80], "damaged"),
    ],
)
def test_a_refusal_says_what_was_found_and_what_to_give(data, found):
    with pytest.raises(InputError, match=found) as told:
        encoded(data, "shot.jpg")
    assert str(told.value).startswith("shot.jpg: ")
    assert "JPEG" in str(told.value) or "take the photo again" in str(told.value)


def test_too_many_pixels_are_refused_before_they_are_unpacked(monkeypatch):
    bomb = picture("PNG", (5000, 5000), mode="1", colour=0)
    assert len(bomb) < 10_000
    monkeypatch.setattr(encoding.Image.Image, "thumbnail", None)  # would fail if it were unpacked
    with pytest.raises(InputError, match="5000 x 5000 px"):
        encoded(bomb)


def test_too_many_bytes_are_refused(monkeypatch):
    monkeypatch.setattr(encoding, "MOST_GIVEN_BYTES", 1000)
    with pytest.raises(InputError, match="give at most"):
        encoded(bytes(1001))
