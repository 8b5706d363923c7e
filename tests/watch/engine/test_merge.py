"""Several ports become one stream: in time order, whatever order they came in."""

from hypothesis import given
from hypothesis import strategies as st

from logger.model.event import Event
from logger.model.reading import Flag, Reading
from logger.watch.engine.merge import Merger, order

times = st.integers(0, 20)
items = st.lists(
    st.one_of(
        st.builds(
            Reading,
            channel=st.sampled_from(["bath", "fat"]),
            t_ns=times,
            value=st.just(1.0),
            u=st.just(0.1),
        ),
        st.builds(Event, t_ns=times, kind=st.just("mark"), source=st.just("operator")),
    ),
    max_size=30,
)


def test_items_come_out_by_time_events_first_then_readings_by_channel():
    merger = Merger()
    merger.add([Reading("fat", 5, 1.0, 0.1), Reading("bath", 5, 1.0, 0.1)])
    merger.add([Event(t_ns=5, kind="mark", source="operator"), Reading("fat", 3, 1.0, 0.1)])
    out = merger.release(5)
    assert [(i.t_ns, getattr(i, "channel", None)) for i in out] == [
        (3, "fat"),
        (5, None),
        (5, "bath"),
        (5, "fat"),
    ]


def test_what_is_newer_than_the_watermark_waits():
    merger = Merger()
    merger.add([Reading("fat", 5, 1.0, 0.1), Reading("fat", 6, 1.0, 0.1)])
    assert [i.t_ns for i in merger.release(5)] == [5]
    assert [i.t_ns for i in merger.release(6)] == [6]
    assert merger.release(7) == []


def test_a_reading_older_than_what_was_released_is_late():
    merger = Merger()
    merger.release(10)
    standing = merger.add([Reading("fat", 10, 1.0, 0.1), Reading("fat", 11, 1.0, 0.1)])
    assert [i.flags & Flag.LATE for i in standing] == [Flag.LATE, 0]
    assert merger.release(11) == standing


def test_a_late_event_moves_up_and_says_when_it_was_stamped():
    merger = Merger()
    merger.release(10)
    [event] = merger.add([Event(t_ns=4, kind="mark", source="operator", data={"piece": 2})])
    assert (event.t_ns, event.data) == (11, {"piece": 2, "stamped_ns": 4})


def test_the_watermark_never_goes_back():
    merger = Merger()
    merger.release(10)
    assert merger.release(5) == []
    assert merger.released_ns == 10


@given(items, st.lists(st.tuples(st.integers(1, 8), times), max_size=10))
def test_the_order_live_is_the_order_of_a_plain_sort_of_what_was_stored(stream, cuts):
    """Late readings aside: the engine passes over them in both."""
    merger, live, stored = Merger(), [], []
    at = 0
    for count, watermark in cuts:
        stored += merger.add(stream[at : at + count])
        at += count
        live += merger.release(watermark)
    stored += merger.add(stream[at:])
    live += merger.release(1_000)
    judged = [i for i in live if isinstance(i, Event) or not i.flags & Flag.LATE]
    kept = [i for i in stored if isinstance(i, Event) or not i.flags & Flag.LATE]
    assert judged == sorted(kept, key=order)
    assert len(live) == len(stored) == len(stream)
