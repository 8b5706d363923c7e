"""Runs compared: what differed in ingredients and targets, and what that did.

Pure; portraits in, tables out. Times are given from an event that all runs have, so that the
traces lie over each other. Claims about the effect of a change come from
logger.review.compare.effects alone.
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from logger.review.compare.effects import TOO_FEW, Effect, effect
from logger.review.features.feature import SPECS
from logger.review.features.portrait import GROUPS, Portrait
from logger.review.learn.sheets import Change, differences
from logger.words.bands import span_text
from logger.words.values import percent_text, value_text

_LOT = ": lot"
"""What a sheet only notes of a batch: a delivery is nothing that was asked for."""
_MEASURED = ": piece masses"
"""What was weighed is a fact of the run, and no two runs have the same: never a change."""
_MINOR = (_LOT, ": price", ": planned", "decision rule")


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One number of all the runs; None where a run does not have it."""

    name: str
    label: str
    unit: str
    values: tuple[float | None, ...]
    us: tuple[float | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class EffectRow:
    """What a change did to one number."""

    name: str
    label: str
    unit: str
    effect: Effect
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Substitution:
    """Runs of one product that differ in the fat or in lots.

    Attributes
    ----------
    group : str
        ``fat``, ``salt``, ``binder``... : what was exchanged.
    before, after : str
        What it was and what it is.
    """

    group: str
    before: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Runs compared.

    Attributes
    ----------
    runs : tuple of str
        In the order given.
    changes : tuple of tuple of Change
        What each later run's sheet asks for otherwise than the first's, without lots and measured
        masses; one entry a run after it.
    swaps : tuple of tuple of Substitution
        What each later run had in place of what the first had: another fat, salt or lot.
    groups : tuple of (str, tuple of str)
        What was changed, and the runs of it: only where exactly two kinds of sheet are compared.
    rows : tuple of Row
        Numbers of all runs.
    effects : tuple of EffectRow
        What the change did; empty where there are not two groups.
    says : str
        What can be told, in a sentence.
    """

    runs: tuple[str, ...]
    outcomes: tuple[str | None, ...]
    defects: tuple[tuple[str, ...], ...]
    changes: tuple[tuple[Change, ...], ...]
    swaps: tuple[tuple[Substitution, ...], ...]
    groups: tuple[tuple[str, tuple[str, ...]], ...]
    rows: tuple[Row, ...]
    effects: tuple[EffectRow, ...]
    says: str

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON values."""
        return asdict(self)


def compare(runs: Sequence[Portrait]) -> Comparison:
    """Compare runs.

    Parameters
    ----------
    runs : sequence of Portrait
        Two or more; the first is the reference.

    Returns
    -------
    Comparison
        Differences first, then numbers and, for two groups, effects.

    Notes
    -----
    Runs whose sheets want the same form a group. With two groups that differ in one thing the
    effect is of that thing; with more it is of all of them together, and `says` tells so.
    """
    changes = tuple(
        tuple(c for c in _changes(runs[0], r, minor=True) if not c.where.endswith(_LOT))
        for r in runs[1:]
    )
    groups = _groups(runs)
    effects: tuple[EffectRow, ...] = ()
    if len(groups) == 2:
        (_, first), (_, second) = groups
        effects = tuple(
            effects_between(
                [r for r in runs if r.run_id in first], [r for r in runs if r.run_id in second]
            )
        )
    return Comparison(
        runs=tuple(r.run_id for r in runs),
        outcomes=tuple(r.outcome for r in runs),
        defects=tuple(r.defects for r in runs),
        changes=changes,
        swaps=tuple(tuple(substitutions(runs[0], r)) for r in runs[1:]),
        groups=groups,
        rows=tuple(_rows(runs)),
        effects=effects,
        says=_says(runs, groups, effects),
    )


def substitutions(before: Portrait, after: Portrait) -> list[Substitution]:
    """Return what one run had in place of what the other had, kinds before lots."""
    found = []
    for what in ("kind", "lot"):
        for group in GROUPS:
            old = before.kinds(group) if what == "kind" else before.lots(group)
            new = after.kinds(group) if what == "kind" else after.lots(group)
            if old != new and (what == "lot" or (old and new)):
                label = group if what == "kind" else f"lot of {group}"
                found.append(
                    Substitution(
                        group=label,
                        before=", ".join(sorted(old)) or "none",
                        after=", ".join(sorted(new)) or "none",
                    )
                )
    return found


def anchor_s(run: Portrait, event: str) -> float | None:
    """Return the time of an event to lay runs over each other by [s], or None without it.

    Parameters
    ----------
    run : Portrait
        The run.
    event : str
        ``pour``: the fat goes in; ``bath``: the first piece goes into the bath; ``start``.
    """
    if event == "start":
        return 0.0
    name = {"pour": "pour_rate_g_min", "bath": "dwell_mean_s"}.get(event, "")
    feature = run.features.get(name)
    return feature.span.from_s if feature is not None else None


def _groups(runs: Sequence[Portrait]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Group runs whose sheets want the same, named by what differs from the first.

    Notes
    -----
    Lots, prices and plans count only where nothing else differs: they change with every delivery.
    Masses that were measured never count.
    """
    for minor in (False, True):
        kinds: list[tuple[Portrait, list[str]]] = []
        for run in runs:
            for first, members in kinds:
                if not _changes(first, run, minor=minor):
                    members.append(run.run_id)
                    break
            else:
                kinds.append((run, [run.run_id]))
        if len(kinds) > 1:
            break
    named = []
    for first, members in kinds:
        changed = _changes(runs[0], first, minor=minor)
        name = "as the first" if not changed else "; ".join(_change(c) for c in changed)
        named.append((name, tuple(members)))
    return tuple(named)


def _changes(before: Portrait, after: Portrait, *, minor: bool) -> list[Change]:
    left_out = (_MEASURED,) if minor else (_MEASURED, *_MINOR)
    return [c for c in differences(before.sheet, after.sheet) if not c.where.endswith(left_out)]


def _change(change: Change) -> str:
    return (
        f"{change.where.replace(': ', ', ')} {change.before or 'none'} → {change.after or 'none'}"
    )


def _rows(runs: Sequence[Portrait]) -> list[Row]:
    rows = []
    for spec in SPECS:
        found = [r.features.get(spec.name) for r in runs]
        values = tuple(f.value if f is not None else None for f in found)
        if any(v is not None for v in values):
            us = tuple(
                f.u if f is not None and f.value is not None and f.u == f.u else None for f in found
            )
            rows.append(Row(name=spec.name, label=spec.label, unit=spec.unit, values=values, us=us))
    return rows


def effects_between(
    first: Sequence[Portrait], second: Sequence[Portrait], alike: str = "the change did nothing"
) -> list[EffectRow]:
    """Return how the numbers of some runs differ from those of others.

    Parameters
    ----------
    first, second : sequence of Portrait
        The second is compared with the first.
    alike : str
        What the chance is the chance of, in words.
    """
    rows = []
    came_out = effect(
        *([float(r.outcome == "accepted") for r in g if r.outcome] for g in (first, second))
    )
    if came_out is not None:
        rows.append(
            EffectRow(
                name="accepted",
                label="share accepted",
                unit="",
                effect=came_out,
                says=_effect_text("", came_out, alike),
            )
        )
    for spec in SPECS:
        one, other = (
            [f.value for r in g if (f := r.features.get(spec.name)) and f.value is not None]
            for g in (first, second)
        )
        found = effect(one, other)
        if found is not None:
            rows.append(
                EffectRow(
                    name=spec.name,
                    label=spec.label,
                    unit=spec.unit,
                    effect=found,
                    says=_effect_text(spec.unit, found, alike),
                )
            )
    return rows


def _effect_text(unit: str, found: Effect, alike: str) -> str:
    if found.says == TOO_FEW or found.p is None or found.low is None or found.high is None:
        return f"{TOO_FEW}: {found.count_a} in the first group, {found.count_b} in the other"
    unit = "K" if unit == "degC" else unit  # a difference
    return (
        f"{found.says}: shift {value_text(found.shift, unit)} "
        f"({span_text(found.low, found.high, unit)}"
        f"; chance {percent_text(found.p)} if {alike})"
    )


def _says(
    runs: Sequence[Portrait],
    groups: Sequence[tuple[str, tuple[str, ...]]],
    effects: Sequence[EffectRow],
) -> str:
    if len(runs) < 2:
        return "One run: nothing to compare with."
    if len(groups) == 1:
        return "The sheets have the same content: what differs is how the batches went."
    if len(groups) > 2:
        return f"{len(groups)} groups by sheet and lots. Compare two of them to see an effect."
    count = groups[1][0].count("; ") + 1
    what = "One change" if count == 1 else f"{count} changes made together"
    told = [e for e in effects if e.effect.p is not None]
    if not told:
        whose = "its" if count == 1 else "their"
        return f"{what}: {groups[1][0]}. Too few runs to tell {whose} effect."
    clear = [e for e in told if e.effect.says in ("higher", "lower")]
    looked = (
        f"{len(told)} numbers were looked at; at 5 % each some {round(0.05 * len(told))} show a "
    )
    return f"{what}: {groups[1][0]}. {len(clear)} numbers differ; {looked}difference by chance."
