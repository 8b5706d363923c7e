"""Batches whose cause is hard to tell: mild causes of the virtual bench, and sensors left out.

Short batches with one or two causes, each at a part of its strength, read once a second, at which
the bath scale tells no dwell; those that came out with a defect by physics alone. A cause is true
where without it a defect stays away, or where it alone brings one. Used by ``tests.bench.why`` and
``tests.likelihoods``.
"""

import itertools
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from unittest import mock

import numpy as np

from logger.model.kinds.registry import KINDS
from logger.review.features.feature import Feature
from logger.review.features.portrait import Portrait, portrait
from logger.review.why.explain import explain
from logger.review.why.knowledge import builtin_knowledge
from logger.review.why.likelihood import Likelihoods
from logger.virtual.batch.causes import CAUSES
from logger.virtual.batch.circumstances import Circumstances, draw
from logger.virtual.batch.judge import defects_of
from logger.virtual.bodies import physics
from tests.bench.figures.virtual_runs import judged

RATE_HZ = 1.0
ROLES = ("fat", "water", "emulsion", "bath", "bowl_scale", "bath_scale")
LEFT_OUT, TIMES = 0.5, 4
"""Chance that a sensor is not there, and how often sensors are left out of each batch."""
GOOD_FROM = 9000
SHORT = tuple(name for name, cause in CAUSES.items() if cause.short)
_SCALE_OF = {"emulsify": "bowl_scale", "set": "bath_scale"}
_SENSORS = {check.key: check.sensors for kind in KINDS for check in kind.checks}


@dataclass(frozen=True, kw_only=True)
class Unclear:
    """One batch, and the causes that its defects come from."""

    seed: int
    run: Portrait
    true: tuple[str, ...]


def mild(seed: int, parts: Mapping[str, float]) -> Circumstances:
    """Draw a batch whose causes each have only a part of their strength."""
    batch = plain = draw(seed, short=True)
    for name, part in parts.items():
        full = draw(seed, (name,), short=True)
        changed = {
            f.name: _between(getattr(plain, f.name), getattr(full, f.name), part)
            for f in fields(full)
            if getattr(full, f.name) != getattr(plain, f.name)
        }
        batch = replace(batch, **changed)
    return replace(batch, causes=tuple(parts))


def _between(plain: object, full: object, part: float) -> object:
    """Return what lies between two numbers, or between two of each piece; else the second."""
    if isinstance(plain, float) and isinstance(full, float):
        return plain + part * (full - plain)
    if isinstance(full, tuple) and all(isinstance(x, float) for x in full):
        return tuple(p + part * (f - p) for p, f in zip(plain, full, strict=True))  # type: ignore[call-overload]  # as long as the other
    return full


def came_out(seed: int, parts: Mapping[str, float]) -> set[str]:
    """Return the defects of such a batch, by physics alone."""
    with _drawn(mild(seed, parts)):
        world = physics.World(seed, (), short=True)
        while world.time_s < world.script.end_s:
            world.step()
    return set(defects_of(world))


def _drawn(batch: Circumstances) -> "mock._patch[mock.MagicMock]":
    return mock.patch.object(physics, "draw", return_value=batch)


def unclear(seed: int) -> Unclear | None:
    """Return one batch with one or two mild causes; None where it came out well."""
    rng = np.random.default_rng([seed, 91])
    names = rng.permutation(SHORT)[: int(rng.integers(1, 3))]
    parts = {str(name): float(rng.uniform(0.15, 1.0)) for name in names}
    defects = came_out(seed, parts)
    if not defects:
        return None
    true = [name for name in parts if _is_true(name, seed, parts, defects)]
    with _drawn(mild(seed, parts)):
        facts, _ = judged(seed, (), (), short=True, rate_hz=RATE_HZ)
    run = replace(portrait(facts), outcome="rejected", defects=tuple(sorted(defects)))
    return Unclear(seed=seed, run=run, true=tuple(true))


def _is_true(name: str, seed: int, parts: Mapping[str, float], defects: set[str]) -> bool:
    """Whether a cause alone brings a defect, or some stays away without it."""
    others = {other: part for other, part in parts.items() if other != name}
    if not others:
        return True
    return bool(came_out(seed, {name: parts[name]}) or defects - came_out(seed, others))


def left_out(run: Portrait, seed: int) -> Iterator[Portrait]:
    """Yield a run as it is, and as it would be without some of its sensors."""
    yield run
    rng = np.random.default_rng([seed, 92])
    for _ in range(TIMES):
        yield without(run, [role for role in ROLES if rng.random() < LEFT_OUT])


def without(run: Portrait, roles: Collection[str]) -> Portrait:
    """Return a run as it would be without the sensors of some roles."""
    features = {
        name: replace(f, value=None, missing="no such sensor") if _is_of(f, roles) else f
        for name, f in run.features.items()
    }
    findings = [
        f
        for f in run.findings
        if f.channel not in roles and not set(_SENSORS.get(f.key, ())) & set(roles)
    ]
    pieces = run.pieces
    if "bath_scale" in roles:
        pieces = tuple(replace(p, dwell_s=None, set_fraction=None) for p in pieces)
        findings = [f for f in findings if not f.key.startswith("set.") or f.key == "set.bath_c"]
    return replace(run, features=features, findings=tuple(findings), pieces=pieces)


def _is_of(feature: Feature, roles: Collection[str]) -> bool:
    of = feature.span.channel or _SCALE_OF.get(feature.spec.kind, "")
    needs = {of}
    if feature.spec.judged_by is not None:
        needs |= set(_SENSORS.get(feature.spec.judged_by, ()))
    if feature.spec.name == "probes_apart_k":
        needs |= {"water", "emulsion"}
    if feature.spec.name in ("mix_miss_k", "mix_predicted_c"):
        needs |= {"fat", "water", "emulsion", "bowl_scale"}
    return bool(needs & set(roles))


def good_ones(first: int, count: int = 12) -> list[Portrait]:
    """Return short batches in which all goes well."""
    made = (judged(first + GOOD_FROM + k, short=True, rate_hz=RATE_HZ) for k in range(count))
    return [portrait(facts) for facts, run in made if not run.truth["defects"]]


def views(one: Unclear, good: Sequence[Portrait]) -> Iterator[tuple[Portrait, Sequence[Portrait]]]:
    """Yield a batch and what it is compared with: many, three and none; defects said or not."""
    for run in left_out(one.run, one.seed):
        for known, said in itertools.product((good, good[:3], []), (True, False)):
            yield (run if said else replace(run, defects=())), known


def unclear_ones(first: int, count: int) -> list[Unclear]:
    """Return the batches of some seeds that came out with a defect."""
    made = (unclear(seed) for seed in range(first, first + count))
    return [one for one in made if one is not None]


def unclear_scored(
    batches: Iterable[Unclear], good: Sequence[Portrait], learned: Likelihoods | None = None
) -> list[tuple[float, bool]]:
    """Return the score of each cause that is listed, and whether it was in the batch."""
    found = []
    for one in batches:
        for run, known in views(one, good):
            causes = explain(run, known, builtin_knowledge(), learned).causes
            found += [(c.score, c.mechanism.id in one.true) for c in causes if c.known]
    return found
