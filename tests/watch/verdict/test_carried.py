"""An unknown uncertainty stays unknown in every check that carries it, and is said to be so."""

import dataclasses
import datetime
import math

import pytest

from logger.correct.channel import Corrector
from logger.model.bench import Channel, bench_of_roles
from logger.model.checks import BETWEEN_RUNS, CHECKS, UNNAMED
from logger.model.kinds.record.kind import OWN
from logger.model.kinds.registry import KINDS
from logger.model.reading import Reading
from logger.model.written import Band
from logger.science.fats.fatfile import builtin_fats
from logger.watch.engine.contract import Batch, Context, Outbox
from logger.watch.engine.engine import Engine
from logger.watch.verdict.checks import finding
from logger.watch.verdict.measured import Measured
from tests.watch.made_up import ROLES, S, engine, made_up_sheet, stream_of

JUDGED = [c for c in CHECKS.values() if c not in BETWEEN_RUNS and c is not UNNAMED]
SHEET = made_up_sheet()
SHORT_S = 14
DONT_KNOW = {"kind": "other", "assumed": True}


def assumed(role):
    table = {"id": role, "instrument": "i", "field": role, "role": role, "sensor": DONT_KNOW}
    return Corrector(Channel.model_validate(table), datetime.date(2026, 11, 30))


def context(correctors=(), **last_u):
    batch = Batch()
    batch.last = {role: Reading(role, 0, 20.0, u, 0) for role, u in last_u.items()}
    return Context(
        sheet=SHEET,
        bench=bench_of_roles(ROLES),
        stage=None,
        start_ns=0,
        batch=batch,
        out=Outbox(),
        correctors=dict(correctors),
        fats={},
    )


@pytest.mark.parametrize("check", JUDGED, ids=lambda c: c.key)
def test_a_check_that_carries_no_sensors_uncertainty_is_one_of_a_time(check):
    assert check.sensors or check.unit == "s", "say whose uncertainty it carries"


@pytest.mark.parametrize("check", [c for c in JUDGED if c.sensors], ids=lambda c: c.key)
@pytest.mark.parametrize("value", [-1e4, 5.0, 1e4])
def test_no_check_is_met_or_missed_while_the_uncertainty_of_one_of_its_sensors_is_unknown(
    check, value
):
    """Whatever uncertainty a watcher worked out beside it."""
    for role in check.sensors:
        role = "bench_scale" if role == OWN else role
        measured = Measured(value=value, u=0.1, channel="bench_scale")
        known = dict.fromkeys(ROLES, 0.2)
        band = Band(low=0.0, high=10.0, unit=check.unit)
        told = finding(context(**known), check.key, measured, band)
        assert told.verdict in ("met", "not met")
        told = finding(context(**known | {role: math.nan}), check.key, measured, band)
        assert told.verdict == "undecided"
        name = role.replace("_", " ") + ("" if role.endswith("scale") else " sensor")
        assert f"no verdict, the uncertainty of the {name} is not set" in told.evidence
        assert f"channel {role}: sensor" in told.evidence
        assert "no reading" not in told.evidence


def test_a_whole_batch_of_unknown_sensors_decides_nothing_but_times():
    unknown = [
        i._replace(u=math.nan) if isinstance(i, Reading) else i
        for i in stream_of(5, len(KINDS), SHORT_S)
    ]
    batch = engine(SHEET)
    batch.feed(unknown, unknown[-1].t_ns)
    found = batch.finish(len(KINDS) * SHORT_S * S).findings
    for one in found:
        if CHECKS[one.key].sensors:
            assert one.verdict in ("undecided", "not measured"), one
            if one.value is not None and one.low is not None:
                assert "no verdict, " in one.evidence, one
    assert {kind.name for kind in KINDS} == {f.key.partition(".")[0] for f in found} - {"run"}
    measured = {f.key for f in found if CHECKS[f.key].sensors and f.value is not None}
    assert len(measured) > 12


def test_a_finding_without_an_uncertainty_is_never_put_out_as_decided():
    out = context().out
    told = finding(context(), "heat.fat_c", Measured(value=50.0), Band(low=40.0, unit="degC"))
    out.find(dataclasses.replace(told, verdict="met"))
    assert [f.verdict for f in out.results.findings] == ["undecided"]


@pytest.mark.parametrize("check", [c for c in JUDGED if c.sensors], ids=lambda c: c.key)
def test_every_verdict_from_an_assumed_uncertainty_is_marked(check):
    band, measured = Band(low=0.0, unit=check.unit), Measured(value=5.0, u=0.1, channel="fat")
    for role in check.sensors:
        role = "fat" if role == OWN else role
        others = {r: assumed(r) for r in ROLES if r != role}
        own = {role: assumed(role)}
        assert finding(context(own), check.key, measured, band).assumed
        unmarked = finding(context(others), check.key, measured, band)
        assert unmarked.assumed == (len(check.sensors) > 1)
        assert not finding(context(own), check.key, Measured(), band).assumed


def test_a_time_is_not_marked_by_the_sensor_beside_it():
    own = {"bath_scale": assumed("bath_scale")}
    dwell = Measured(value=90.0, u=0.5, channel="bath_scale")
    assert not finding(context(own), "set.dwell_s", dwell, Band(low=60.0, unit="s")).assumed


def test_live_numbers_of_a_stage_with_an_assumed_sensor_are_marked_and_it_is_named():
    sheet = made_up_sheet("heat")
    bench = bench_of_roles(ROLES)
    guessed = {role: assumed(role) for role in ("fat", "core")}  # heating has no use for a core
    batch = Engine(sheet, bench, correctors=guessed, fats=builtin_fats())
    stream = stream_of(3, 1)
    batch.feed(stream, stream[-1].t_ns)
    view = batch.state(stream[-1].t_ns).view
    judged = [n for n in view.numbers if n.low is not None or n.high is not None]
    assert judged
    assert all(n.assumed for n in judged)
    assert "Uncertainty assumed, nobody knew it: Fat." in view.more
