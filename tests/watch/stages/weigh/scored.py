"""How a weighing came out, ingredient by ingredient, compared with its truth."""

from collections import Counter

from logger.model.event import Event
from tests.watch.stages.weigh.habits import Session, engine_of

MOST_TAPS = 8
OFF_STEPS, OFF_SHARE = 3.0, 0.006
"""A booked mass is right within so many display steps, or such a share of it."""


def right(made: Session, name: str, mass_g: float | None) -> bool:
    """Return whether a mass is that of an ingredient."""
    truth_g = made.truth_g.get(name)
    if truth_g is None or mass_g is None:
        return truth_g is None and mass_g is None
    return abs(mass_g - truth_g) <= max(OFF_STEPS * made.step_g, OFF_SHARE * truth_g)


def is_so(made: Session, asked: dict) -> bool:
    """Return what a cook who remembers every move answers to a question."""
    if asked["whole"]:
        return right(made, asked["ingredient"], asked["mass_g"])
    before = [name for t_s, name in made.loads if t_s <= asked["at_s"]]
    return bool(before) and before[-1] == asked["ingredient"]


def judged(made: Session, engine, count: Counter, prefix: str = "") -> list:
    """Count how each ingredient stands, and return those that are not booked right."""
    results = engine.results()
    rows = {r.ingredient: r for r in results.weighings}
    odd = []
    for name in made.truth_g:
        row = rows.get(name)
        sure = row is not None and row.sure
        is_right = row is not None and right(made, name, row.mass_g)
        kind = ("right" if is_right else "wrong") if sure else "asked" if row else "missing"
        count[prefix + kind] += 1
        if kind != "right":
            mass = row and (round(row.mass_g, 2), round(row.confidence or 1.0, 3))
            odd.append((name, round(made.truth_g[name], 2), mass, kind))
    return odd


def score(made: Session) -> tuple[Counter, list]:
    """Weigh in by the engine, answer what it asks, and count."""
    engine, count = engine_of(made), Counter()
    engine.feed(made.items, made.end_ns)
    now_ns = made.end_ns
    for _tap in range(MOST_TAPS):
        now_ns += 3_000_000_000
        engine.feed([], now_ns)
        asked = [p for p in engine.state(now_ns).proposals if p.what == "ingredient"]
        if not asked:
            break
        count["taps"] += 1
        [proposal] = asked
        kind = "accept" if is_so(made, proposal.data) else "decline"
        data = {"proposal": proposal.id}
        engine.feed([Event(t_ns=now_ns, kind=kind, source="operator", data=data)], now_ns)
    untapped = engine
    if count["taps"]:
        untapped = engine_of(made)
        untapped.feed(made.items, made.end_ns)
        untapped.finish(made.end_ns)
    engine.finish(now_ns)
    odd = judged(made, untapped, count)
    odd += [
        ("verdict", f.subject, f.value, "wrong verdict") for f in wrong_verdicts(made, untapped)
    ]
    tapped = judged(made, engine, count, "tapped ")
    odd += [("tapped", *each) for each in tapped]
    count["wrong verdict"] += len(wrong_verdicts(made, untapped))
    count["tapped wrong verdict"] += len(wrong_verdicts(made, engine))
    return count, odd


def wrong_verdicts(made: Session, engine) -> list:
    """Return the findings that judge a mass which is not the ingredient's."""
    return [
        f
        for f in engine.results().findings
        if f.key == "weigh.mass_g" and f.value is not None and not right(made, f.subject, f.value)
    ]
