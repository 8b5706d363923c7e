"""Every kind of stage on a made-up stream: cutting does not matter, undo restores all."""

import random

import pytest

from logger.model.event import Event
from logger.model.kinds.registry import KINDS, kind_of
from logger.model.reading import Reading
from tests.watch.made_up import S, cut, engine, made_up_sheet, stream_of, told

SHEET = made_up_sheet()
SHORT_S = 20
"""Length of a stage in which nothing but its kind matters [s]."""


@pytest.mark.slow
def test_any_cutting_of_a_whole_batch_gives_the_same_events_findings_and_state():
    stream = stream_of(619, len(KINDS), SHORT_S)
    cuts = sorted(random.Random(619).sample(range(len(stream)), 12))
    end_ns = stream[-1].t_ns
    whole, pieces = engine(SHEET), engine(SHEET)
    said_whole = whole.feed(stream, end_ns)
    assert cut(pieces, stream, cuts) == said_whole
    assert told(pieces, end_ns) == told(whole, end_ns)
    assert repr(pieces.finish(end_ns + S)) == repr(whole.finish(end_ns + S))


def test_every_kind_of_stage_runs_shows_a_view_and_leaves_its_findings():
    batch = engine(SHEET)
    stages = set()
    for place, item in enumerate(
        stream_of(7, len(KINDS), SHORT_S)
    ):  # nobody takes the last stage back
        batch.feed([item], item.t_ns)
        if batch.stage_id is not None:
            stages.add(batch.stage_id)
        if place % 50 == 0 or isinstance(item, Event):
            state = batch.state(item.t_ns)
            state.as_json()
            assert state.view.say
    assert stages == {s.id for s in SHEET.stage}
    found = batch.finish(len(KINDS) * SHORT_S * S).findings
    judged = {kind_of(s).name for s in SHEET.stage if any(f.stage == s.id for f in found)}
    assert judged == {kind.name for kind in KINDS}
    for finding in found:
        assert finding.evidence
        assert finding.verdict in ("met", "not met", "undecided", "not measured")
        if finding.value is None:
            assert finding.verdict in ("not measured", "not met", "undecided")


def test_a_batch_of_silence_meets_nothing():
    """No readings at all: no check may pass but those of time and of the sheet's own amounts."""
    batch = engine(SHEET)
    items = [Event(t_ns=0, kind="run_start", source="operator")]
    items += [
        Event(t_ns=(1 + 20 * k) * S, kind="next", source="operator") for k in range(len(KINDS) + 1)
    ]
    batch.feed(items, items[-1].t_ns + 20 * S)
    for finding in batch.finish(items[-1].t_ns + 20 * S).findings:
        if finding.verdict == "met":
            assert finding.channel is None, finding
            assert finding.unit in ("s", "%"), finding


def test_undo_in_any_stage_restores_what_was_before():
    stream = [i for i in stream_of(8, len(KINDS)) if isinstance(i, Reading) or i.kind == "next"]
    plain, fed = engine(SHEET), 0
    for count in range(2_000, len(stream), 7_000):
        kept = stream[:count]
        t_ns = kept[-1].t_ns
        plain.feed(stream[fed:count], t_ns)
        fed, undone = count, engine(SHEET)
        undone.feed(kept, t_ns)
        acts = [Event(t_ns=t_ns, kind=k, source="operator") for k in ("mark", "undo")]
        undone.feed(acts, t_ns)
        assert told(undone, t_ns) == told(plain, t_ns)
