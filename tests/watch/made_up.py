"""A made-up stream through stages of every kind: each as its record writes it, in short times."""

import dataclasses
import itertools
import math
import random

from logger.model.bench import bench_of_roles
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.kinds.registry import KINDS
from logger.model.reading import Flag, Reading
from logger.review.learn.sheets import template
from logger.science.fats.fatfile import builtin_fats
from logger.watch.engine.engine import SECOND_NS, Engine

S = SECOND_NS
STAGE_S = 40
ENDS = ("bench", "sheet", "operator")
ROLES = ["fat", "water", "emulsion", "bath", "core", "bowl_scale", "bath_scale", "bench_scale"]
LEVELS = {"fat": 52.0, "water": 48.0, "emulsion": 40.0, "bath": 18.0, "core": 60.0}


def made_up_sheet(*names):
    """Return the ingredients of the sheet to begin with and a stage of each kind named, or of all:
    minutes become seconds, and the stages end in turn in each of the three ways."""
    kinds = [kind for kind in KINDS if not names or kind.name in names]
    head = template().partition("[[stage]]")[0]
    stages = [
        f'{kind.example.replace(" min", " s")}ends = "{ENDS[place % len(ENDS)]}"\n'
        for place, kind in enumerate(kinds)
    ]
    return sheet_from_text(head + "".join(stages), "made up.sheet.toml")


def stream_of(seed, stages, stage_s=STAGE_S):
    """Go through a number of stages; temperatures wander, scales step, the operator marks and
    undoes."""
    rng = random.Random(seed)
    items = [Event(t_ns=0, kind="run_start", source="operator")]
    loads = dict.fromkeys(("bowl_scale", "bath_scale", "bench_scale"), 400.0)
    phase = {role: rng.uniform(0, 6) for role in ROLES}
    for tenth in range(1, stages * stage_s * 5):
        t_ns = tenth * S // 5
        for role in ROLES:
            if rng.random() < 0.01:
                continue
            if role in loads:
                if rng.random() < 0.02:
                    loads[role] = max(0.0, loads[role] + rng.choice((-83, -40, 12, 28, 81, 180)))
                value = round(loads[role] + rng.gauss(0, 0.03), 1)
            else:
                wander = 8.0 * math.sin(tenth / 400 + phase[role]) - tenth / 300
                value = round(LEVELS[role] + wander + rng.gauss(0, 0.05), 2)
            flags = rng.choice((0,) * 200 + (Flag.OUT_OF_RANGE, Flag.UNTRUSTED))
            items.append(Reading(role, t_ns, value, 0.2, int(flags)))
        if tenth % (stage_s * 5) == 1:
            items.append(Event(t_ns=t_ns, kind="next", source="operator"))
        elif rng.random() < 0.01:
            kind = rng.choice(("mark", "mark", "undo", "note", "piece_in", "piece_out"))
            data = {"piece": rng.randint(1, 3)} if kind.startswith("piece") else {}
            items.append(Event(t_ns=t_ns, kind=kind, source="operator", data=data))
    return items


def engine(sheet):
    return Engine(sheet, bench_of_roles(ROLES), correctors={}, fats=builtin_fats())


def told(engine, t_ns):
    return repr((dataclasses.asdict(engine.results()), engine.state(t_ns).as_json()))


def cut(engine, stream, cuts):
    """Feed a stream in pieces, looking at the state after each; return what was said."""
    said = []
    edges = [0, *sorted({c for c in cuts if 0 < c < len(stream)}), len(stream)]
    for first, last in itertools.pairwise(edges):
        t_ns = stream[last - 1].t_ns
        said += engine.feed(stream[first:last], t_ns)
        engine.state(t_ns)
    return said
