"""A bath stage with two pieces: its sheet, what scale and probe send, what the engine finds."""

import datetime

from logger.correct.channel import Corrector
from logger.model.bench import bench_of_roles
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.reading import Reading
from logger.science.fats.fatfile import builtin_fats
from logger.watch.engine.engine import Engine
from logger.watch.engine.merge import order
from tests.watch.ingredients import coat_and_bath

SECOND = 1_000_000_000
STAGE = """
[[stage]]
id = "skin"
kind = "set"
pieces = 2
piece = { body = "cylinder", diameter = "26 mm", length = "130 mm" }
piece_masses = ["70 g", "80 g"]
bath = { low = "14 degC", high = "24 degC" }
dwell = { low = "150 s", high = "240 s" }
stirred = true
expected_coat = "0.5 mm"
"""
SHEET = '[sheet]\nname = "Smoked beet and barley roll"\n' + coat_and_bath(15) + STAGE


def engine_for(text=SHEET, roles=("bath", "bath_scale")):
    bench = bench_of_roles(list(roles))
    correctors = {c.id: Corrector(c, datetime.date(2026, 11, 25)) for c in bench.channel}
    sheet = sheet_from_text(text, "s")
    return Engine(sheet, bench, correctors=correctors, fats=builtin_fats())


def readings(dips, until_s, *, bath_c=20.0, silent=()):
    """Bath scale at 5 Hz and bath probe at 1 Hz; dips are (mass, in, out); a hand wobbles none."""
    items = []
    for n in range(int(until_s * 5)):
        t_s = n / 5
        if any(a <= t_s < b for a, b in silent):
            continue
        load = sum(m for m, t_in, t_out in dips if t_in <= t_s < t_out)
        wobble = 0.1 * (n % 3 - 1)
        items.append(Reading("bath_scale", int(t_s * SECOND), 2600.0 + load + wobble, 0.1))
        if n % 5 == 0:
            items.append(Reading("bath", int(t_s * SECOND), bath_c, 0.2))
    return items


def operator(t_s, kind, **data):
    return Event(t_ns=int(t_s * SECOND), kind=kind, source="operator", data=data)


def play(engine, items, until_s):
    return engine.feed(sorted(items, key=order), int(until_s * SECOND))


def found(engine, check, piece=None):
    return next(f for f in engine.results().findings if (f.check, f.piece) == (check, piece))
