"""What is proposed records, and no part of a line is ever a value, nor what goes wrong in one."""

from logger.wire.shapes.shape import builtin_shapes
from tests.wire.shapes.proposals import a_proposal_records, a_value_is_whole, tried
from tests.wire.spoilt.judged import tried as spoilt
from tests.wire.spoilt.mutations import MUTATIONS
from tests.wire.spoilt.speaking import starts


def test_a_proposal_that_cannot_record_is_never_made():
    tried(a_proposal_records, 40, again=True)


def test_no_line_that_is_not_a_whole_value_of_its_format_gives_a_value():
    tried(a_value_is_whole, 300, again=True)


EVERY = 8
"""Each format is spoilt in one of so many ways here, and in all of them by a longer run."""


def test_one_thing_that_goes_wrong_in_a_stream_gives_no_value_that_its_line_shows_to_be_false():
    shapes = [s for s in builtin_shapes().values() if s.decode in ("lines", "json") and not s.like]
    names = sorted(MUTATIONS)
    found = [
        (shape.name, one)
        for number, shape in enumerate(shapes)
        for one in spoilt(
            shape, number % len(starts(shape)), number % 5, 0, names[number % EVERY :: EVERY]
        )
    ]
    assert [(name, one.mutation, one.known) for name, one in found if one.known] == []
    assert len(found) > 500
    assert {one.mutation for _, one in found} == {"", *names}
