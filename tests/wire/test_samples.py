"""Each built-in format reads its samples as it says, and what is proposed from them is right."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.model.errors import InputError
from logger.model.reading import RawReading
from logger.ports.shapefiles import load_shapes
from logger.wire.questions import NEVER, may_be_asked
from logger.wire.recognise import recognise
from logger.wire.samples import sample_bytes, wrong_samples
from logger.wire.shapes.shape import builtin_shapes
from tests.wire.conftest import feed, fresh

SHAPES = builtin_shapes()
SAMPLED = {name: shape for name, shape in SHAPES.items() if shape.sample and not shape.like}
OWN = """
[shape."mine"]
channel.mass = { group = "v", quantity = "mass", unit = "g" }
line = [{ means = "reading", pattern = 'M(?P<v>[0-9.]+)' }]
sample = [{ sent = "M12.5", gives = { mass = 125.0 } }]
"""


def heard_of(shape, order):
    lines = [sample_bytes(shape, sample) for sample in shape.sample]
    return shape.frame.end.encode("latin-1") + b"".join(lines[n % len(lines)] for n in order)


def right_values(shape):
    return {value for sample in shape.sample for value in sample.gives.values()}


def test_each_format_reads_its_samples_as_it_says():
    assert [wrong for shape in SAMPLED.values() for wrong in wrong_samples(shape)] == []
    assert len(SAMPLED) >= 60
    assert all(shape.source for shape in SAMPLED.values())


def test_a_format_that_reads_its_sample_otherwise_is_refused(tmp_path):
    (tmp_path / "mine.shapes.toml").write_text(OWN)
    with pytest.raises(InputError, match=r"gives .'mass': 12\.5., not .'mass': 125\.0."):
        load_shapes([tmp_path])


@settings(deadline=None, max_examples=8)
@given(st.sampled_from(sorted(SAMPLED)))
def test_what_is_proposed_from_the_samples_reads_them_right(name):
    shape = SAMPLED[name]
    times = 3  # of each: gross and net in turn would be a ticket
    heard = heard_of(shape, [n // times for n in range(9 * len(shape.sample))])
    first = next(m for m in recognise(heard, SHAPES) if m.claimed)
    found = SHAPES[first.shape]
    if found.unsaid:
        found = found.in_unit(next(iter(shape.channel.values())).sent_unit)
    out = feed(fresh(found), [heard])
    values = [o.value for o in out if isinstance(o, RawReading) and o.field in first.offered]
    told = [round(v, 6) for v in values if v is not None]
    assert len(told) >= 3
    assert set(told) <= {round(v, 6) for v in right_values(shape)}


@settings(deadline=None, max_examples=60)
@given(st.sampled_from(sorted(SAMPLED)), st.integers(0))
def test_a_line_that_is_cut_before_its_end_gives_nothing(name, at):
    shape = SAMPLED[name]
    line = sample_bytes(shape, shape.sample[0])
    end = len(shape.frame.end)
    assert feed(fresh(shape), [line[: at % (len(line) - end + 1)]]) == []


@pytest.mark.parametrize("question", ["T\r\n", "z", "P", "R\r", "CAL", "OUT_SP_1 50", "CONF:X", ""])
def test_what_could_tare_zero_print_set_or_switch_is_never_asked(question):
    assert not may_be_asked(question)


def test_questions_that_read_are_asked():
    assert all(may_be_asked(q) for q in ("SI\r\n", "w", "W\r", "Q\r\n", "READ?\n", "IN_PV_1 \r \n"))
    assert not NEVER & {"SI", "Q", "W"}
