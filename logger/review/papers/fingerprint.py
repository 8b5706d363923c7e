"""A fingerprint of what was recorded, so that a report can be held against its run file.

Pure; the view of the run file is handed in. The same run gives the same print before and after it
is compacted.
"""

import hashlib

import numpy as np

from logger.review.features.facts import ReviewedRun


def fingerprint(run: ReviewedRun) -> str:
    """Return the SHA-256 of a run's sheet, bench and stored readings, in hexadecimal.

    Parameters
    ----------
    run : ReviewedRun
        View of the run file.

    Notes
    -----
    Over the sheet and the bench as JSON, then for each channel of the bench in its order: its id,
    times as little-endian int64 nanoseconds, values as sent as little-endian float64 with one kind
    of nan, flags as little-endian int32.
    """
    digest = hashlib.sha256()
    bench = run.bench()
    for text in (run.sheet().model_dump_json(), bench.model_dump_json()):
        digest.update(text.encode())
        digest.update(b"\0")
    for channel in bench.channel:
        series = run.readings(channel.id)
        value = np.where(np.isnan(series.value), np.nan, series.value)
        digest.update(channel.id.encode() + b"\0")
        digest.update(np.ascontiguousarray(series.t_ns, dtype="<i8").tobytes())
        digest.update(np.ascontiguousarray(value, dtype="<f8").tobytes())
        digest.update(np.ascontiguousarray(series.flags, dtype="<i4").tobytes())
    return digest.hexdigest()
