"""Only a plain JPEG without metadata has the form in which a photo is kept."""

import io

import pytest
from PIL import Image

from logger.model.errors import InputError
from logger.model.event import Event
from logger.model.photos.jpeg import MOST_BYTES, require_kept_form
from logger.model.photos.row import photo_data, photos_said


def jpeg(size=(30, 20), **more):
    file = io.BytesIO()
    Image.new("RGB", size, "red").save(file, "JPEG", **more)
    return file.getvalue()


@pytest.mark.parametrize("progressive", [False, True])
def test_the_size_is_read_from_the_frame(progressive):
    size = require_kept_form(jpeg((1600, 7), progressive=progressive))
    assert (size.width, size.height) == (1600, 7)


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (b"", "not a whole JPEG"),
        (jpeg()[:-3], "not a whole JPEG"),
        (jpeg((1601, 20)), "1601 x 20 px"),
        (jpeg(exif=b"Exif\x00\x00II*\x00\x08\x00\x00\x00\x00\x00"), "metadata"),
        (jpeg(comment=b"where it was"), "metadata"),
        (b"\xff\xd8" + b"\xff\xdb\xff\xff" + b"\xff\xd9", "damaged"),
        (bytes(MOST_BYTES + 1), "at most"),
    ],
)
def test_another_form_is_refused(data, found):
    with pytest.raises(InputError, match=found):
        require_kept_form(data)


def test_the_photos_of_a_run_are_those_of_its_events_each_once():
    shot, again = photo_data(jpeg(), 3), photo_data(jpeg(), 4)
    said = [
        Event(t_ns=1_000_000_000, kind="photo", source="operator", text="seam", data=shot),
        Event(t_ns=2_000_000_000, kind="photo", source="operator", data=photo_data(jpeg((9, 9)))),
        Event(t_ns=3_000_000_000, kind="photo", source="operator", text="end", data=again),
        Event(t_ns=4_000_000_000, kind="photo", source="operator", data={"sha256": "../x"}),
        Event(t_ns=4_000_000_000, kind="note", source="operator", data=shot),
    ]
    first, second = photos_said(said)
    assert (first.piece, first.text, first.width, first.height) == (4, "end", 30, 20)
    assert (second.piece, second.t_s) == (None, 2.0)
    gone = {"sha256": shot["sha256"]}
    said.append(Event(t_ns=5_000_000_000, kind="remove_photo", source="operator", data=gone))
    assert photos_said(said) == (second,)
    said.append(Event(t_ns=6_000_000_000, kind="photo", source="operator", text="anew", data=shot))
    assert [row.text for row in photos_said(said)] == ["", "anew"]
