"""Know your fat: its own onset and plateau from one cooling curve, saved as an own fat."""

import pytest

from logger.model.bench import bench_of_roles
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.reading import Reading
from logger.science.fats.fatfile import builtin_fats, fats_from_toml
from logger.science.fats.fats import UNVERIFIED
from logger.virtual.bodies.probe import Probe
from logger.virtual.bodies.vessels import SettingFat, Vessel, VesselSpec
from logger.watch.engine.engine import Engine

S = 1_000_000_000
SHEET = (
    '[sheet]\nname = "Know your fat"\n[[stage]]\nid = "fat"\nkind = "fat_curve"\nfat = "{key}"\n'
)


def curve(nucleates_c=22.0, melts_c=28.0):
    """120 g of fat from 55 degC in air of 14 degC, read once a second; and the truth."""
    fat = SettingFat(nucleates_at_c=nucleates_c, melts_at_c=melts_c, sets_share=0.4)
    vessel = Vessel(
        VesselSpec(ambient_c=14.0, loss_w_per_k=0.3, loss_exponent=1.2, fat=fat),
        temp_c=55.0, fat_g=120.0,
    )  # fmt: skip
    probe = Probe(lag_s=4.0, noise_k=0.05, step_k=0.1, seed=9)
    shown, true_c = [], []
    while vessel.nucleated_s is None or vessel.time_s < vessel.nucleated_s + 1500.0:
        vessel.step(1.0)
        true_c.append(vessel.temp_c)
        shown.append(probe.read(vessel.temp_c, 1.0))
        if vessel.time_s > 9000.0:
            break
    return shown, true_c, vessel.nucleated_s


def run(key, shown, roles=("fat", "room"), cut=500):
    engine = Engine(
        sheet_from_text(SHEET.format(key=key), "fat.sheet.toml"), bench_of_roles(list(roles)),
        correctors={}, fats=builtin_fats(),
    )  # fmt: skip
    said = list(engine.feed([Event(t_ns=0, kind="next", source="operator")], 0))
    items = []
    for k, value in enumerate(shown):
        items.append(Reading("room", k * S, 14.2, 0.3))
        if "fat" in roles:
            items.append(Reading("fat", k * S, value, 0.15))
    for first in range(0, len(items), cut):
        piece = items[first : first + cut]
        said += engine.feed(piece, piece[-1].t_ns)
    return engine, said, len(shown) * S


@pytest.mark.parametrize("key", ["bench_blend", "coconut_oil"])
def test_onset_and_plateau_are_read_with_their_uncertainty_and_named(key):
    shown, true_c, nucleated_s = curve()
    engine, _, end_ns = run(key, shown)
    view = engine.state(end_ns).view
    assert view.say == "The curve is done."
    assert "ISO 935" in " ".join(view.more)
    results = engine.finish(end_ns)
    found = {f.check: f for f in results.findings}
    onset = found["setting onset"]
    assert onset.value == pytest.approx(22.0, abs=onset.expanded_uncertainty)
    assert onset.expanded_uncertainty < 4.0
    plateau = found["plateau (maximum of the recalescence)"]
    top_c = max(true_c[int(nucleated_s) :])
    assert plateau.value == pytest.approx(top_c, abs=plateau.expanded_uncertainty + 0.1)
    assert results.settings[0].onset_s == pytest.approx(nucleated_s, abs=60.0)


def test_the_measured_fat_is_offered_as_an_own_fat_that_reads_back():
    shown, _, _ = curve()
    engine, _, end_ns = run("lot_412", shown)
    (proposal,) = engine.state(end_ns).proposals
    assert proposal.what == "own_fat"
    assert not proposal.taken
    own = engine.finish(end_ns).own_fat
    fat = fats_from_toml(own.toml, "fats.toml", builtin_fats())["lot_412"]
    assert fat.sets_below_c.value == pytest.approx(22.0, abs=1.0)
    assert "own cooling curve" in fat.sets_below_c.source
    assert "K/min" in fat.sets_below_c.source
    assert fat.latent_j_g.source.startswith(UNVERIFIED)


def test_a_swapped_fat_that_sets_higher_gets_its_own_limits():
    """Sold as coconut oil (20 degC), sets at 31 degC: a hydrogenated one."""
    shown, _, _ = curve(nucleates_c=31.0, melts_c=36.0)
    engine, _, end_ns = run("coconut_oil", shown)
    own = engine.finish(end_ns).own_fat
    fat = fats_from_toml(own.toml, "fats.toml", builtin_fats())["coconut_oil"]
    assert fat.sets_below_c.value == pytest.approx(31.0, abs=1.0)
    assert fat.all_melted_above_c.value > fat.sets_below_c.value
    assert fat.all_melted_above_c.source.startswith(UNVERIFIED)


def test_a_curve_without_setting_gives_no_limit():
    shown, _, _ = curve(nucleates_c=-40.0)
    engine, _, end_ns = run("bench_blend", shown[:3000])
    results = engine.finish(end_ns)
    assert results.own_fat is None
    assert {f.verdict for f in results.findings} == {"not measured"}
    assert all("no setting was seen" in f.evidence for f in results.findings)


def test_without_a_probe_it_says_so():
    engine, _, end_ns = run("bench_blend", [0.0] * 30, roles=("room",))
    assert "no fat probe" in engine.state(end_ns).view.say
    assert {f.verdict for f in engine.finish(end_ns).findings} == {"not measured"}


def test_any_cutting_of_the_stream_gives_the_same():
    shown, _, _ = curve()

    def result(cut):
        engine, said, end_ns = run("bench_blend", shown, cut=cut)
        got = engine.finish(end_ns)
        return said, got.findings, got.settings, got.values

    assert result(7) == result(1111)
