"""A stage of each kind alone on a made-up stream: cutting does not matter, it shows a view."""

import random

import pytest

from logger.model.kinds.registry import KINDS
from tests.watch.made_up import S, cut, engine, made_up_sheet, stream_of, told


@pytest.mark.parametrize("kind", [k.name for k in KINDS])
def test_a_stage_of_a_kind_is_the_same_however_its_stream_is_cut(kind):
    sheet, stream = made_up_sheet(kind), stream_of(3, 1)
    end_ns = stream[-1].t_ns
    whole, halves, bits = engine(sheet), engine(sheet), engine(sheet)
    said = whole.feed(stream, end_ns)
    rng = random.Random(kind)
    assert cut(halves, stream, [rng.randrange(len(stream)) for _ in range(5)]) == said
    assert cut(bits, stream, range(0, len(stream), 7)) == said
    assert whole.state(end_ns).view.say
    assert told(halves, end_ns) == told(bits, end_ns) == told(whole, end_ns)
    assert repr(halves.finish(end_ns + S)) == repr(whole.finish(end_ns + S))
