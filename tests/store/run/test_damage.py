"""A flipped bit or a cut file: refused in words, or read as it was; never a wrong number."""

import random

import numpy as np
import pytest

from logger.model.errors import StoreError
from logger.store.blocks.codec import Columns, decode, decode_chunks, encode
from logger.store.blocks.codec import encode_chunks as encode_raw
from logger.store.blocks.pyramid import decode_bins, encode_bins

COLUMNS = Columns(
    np.arange(0, 4_000_000, 20_000, dtype=np.int64),
    np.round(np.sin(np.arange(200) / 7) * 30, 2),
    np.zeros(200, dtype=np.int64),
    None,
)
BLOBS = {
    "readings": (encode(COLUMNS), decode),
    "level": (encode_bins(COLUMNS, 16), lambda blob: decode_bins(blob, 16, 200)),
    "raw": (encode_raw([(0, n, 1, b"%d\r\n" % n) for n in range(60)]), decode_chunks),
}


@pytest.mark.parametrize("name", BLOBS)
def test_any_flipped_bit_of_a_blob_is_told(name):
    blob, read = BLOBS[name]
    for at in range(4, len(blob)):  # the first four bytes are the number of rows
        with pytest.raises(ValueError, match="check sum"):
            read(blob[:at] + bytes([blob[at] ^ (1 << at % 8)]) + blob[at + 1 :])


@pytest.mark.parametrize("name", BLOBS)
def test_a_cut_blob_is_told(name):
    blob, read = BLOBS[name]
    for size in range(8, len(blob)):
        with pytest.raises(ValueError, match="check sum"):
            read(blob[:size])


def test_a_damaged_file_is_refused_or_reads_as_it_was(writer, run_path):
    """Bits flipped anywhere in a finished file; SQLite itself notices only some."""
    from logger.store.run.records import StoredReading, WriteBatch
    from logger.store.run.runfile import RunView

    values = [round(20 + n % 17 / 10, 1) for n in range(5000)]
    writer.write(
        WriteBatch(
            readings=[StoredReading("fat", n * 100_000_000, v) for n, v in enumerate(values)]
        )
    )
    writer.finish(None, 1)
    whole, chance, told = run_path.read_bytes(), random.Random(8), []
    for _ in range(300):
        data = bytearray(whole)
        data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
        run_path.write_bytes(bytes(data[: chance.choice([len(data), chance.randrange(len(data))])]))
        try:
            view = RunView.open(run_path)
            found = view.readings("fat").value.tolist()
            view.overview("fat", points=50)
            sound = view.check() == "ok"
            view.events(), view.results(), view.outcome(), view.counters(), view.anchors()
        except StoreError as error:
            told.append(str(error))
            continue
        assert found == values or not sound
    assert len(told) > 50
    assert not [text for text in told if "\n" in text]
