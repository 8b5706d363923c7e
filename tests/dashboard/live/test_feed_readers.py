"""Many pages read the feed while it grows: each sees one moment, never a mixture of two."""

import sys
import threading

import numpy as np
import pytest

from dashboard.live.feed import Growing

ROUNDS = 150


@pytest.fixture
def busy_switching():
    """Threads change places as often as they can."""
    before = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    yield
    sys.setswitchinterval(before)


@pytest.mark.usefixtures("busy_switching")
def test_no_reader_sees_a_value_at_another_time_while_old_samples_become_fewer():
    """The value of each sample is its time, so that any torn read shows."""
    growing, done, wrong, reads = Growing(), threading.Event(), [], [0]

    def add():
        for n in range(ROUNDS):
            t_s = np.arange(n * 400, (n + 1) * 400) / 10.0
            growing.add((t_s * 1e9).astype(np.int64), t_s)
        done.set()

    def read():
        while not done.is_set():
            kept = growing.kept
            points = kept.between(-1)
            again = kept.between(-1)
            reads[0] += 1
            if not np.allclose(points.t_s, points.value) or (np.diff(points.t_s) <= 0.0).any():
                wrong.append("torn")
            if points.t_s.size != again.t_s.size:
                wrong.append("changed")
            if points.t_s.size and kept.at(float(points.t_s[0])) != points.value[0]:
                wrong.append("at")
            if points.t_s.size and kept.last_ns != round(points.t_s[-1] * 1e9):
                wrong.append("last")

    threads = [threading.Thread(target=read) for _ in range(3)]
    adding = threading.Thread(target=add)
    for thread in (*threads, adding):
        thread.start()
    for thread in (adding, *threads):
        thread.join()
    assert reads[0] > 20
    assert growing.kept.t_ns.size < ROUNDS * 400, "nothing became fewer: the test tries nothing"
    assert wrong == []


def test_what_was_handed_out_never_changes():
    growing, shown = Growing(), []
    for n in range(60):
        t_s = np.arange(n * 1000, (n + 1) * 1000) / 10.0
        growing.add((t_s * 1e9).astype(np.int64), t_s)
        kept = growing.kept
        shown.append((kept, kept.t_ns.copy(), kept.value.copy()))
    assert growing.kept.t_ns.size < 60_000
    for kept, t_ns, value in shown:
        assert (kept.t_ns == t_ns).all()
        assert (kept.value == value).all()
