"""A bath scale's trace as a sum of closed forms over the whole time axis; no stepping, no objects.

Written apart from the virtual bench to score the immersion detector against other assumptions:
log-normal masses, gamma-distributed drag and pauses, logistic edges, damped splashes, coloured
noise, a boxcar filter. Returns plain dictionaries.
"""

import numpy as np

FINE_HZ = 50.0


def _logistic(t, at, width):
    return 1.0 / (1.0 + np.exp(-np.clip((t - at) / (width / 6.0), -50, 50)))


def _after(t, at):
    return np.where(t >= at, t - at, np.inf)


def second_trace(
    seed,
    *,
    pieces=None,
    mass_cv=0.08,
    dwell_s=None,
    dwell_cv=0.05,
    band=0.15,
    odd=0.05,
    rate_hz=None,
    step_g=None,
    distractors_only=False,
    touches=None,
):
    """One session: {"t_s", "mass_g", "masses_g", "planned_s", "immersions", "tares_s"}.

    `immersions` are (piece, in_s, out_s) with None where the record does not hold the moment.
    """
    rng = np.random.default_rng([seed, 20_77])
    count = 0 if distractors_only else (pieces or int(rng.integers(3, 11)))
    rate = rate_hz or float(rng.choice([2.5, 4.0, 8.0, 10.0, 16.0]))
    step = step_g or float(rng.choice([0.1, 0.2, 1.0], p=[0.6, 0.15, 0.25]))
    aim = dwell_s or float(rng.uniform(75, 360))
    masses = rng.lognormal(np.log(rng.uniform(45, 120)), mass_cv, count).round(1)
    ins = 14.0 + np.cumsum(np.r_[0.0, 7.0 + rng.gamma(2.0, 8.0, max(0, count - 1))])[:count]
    numbers = rng.permutation(count) + 1 if rng.random() < 0.12 else np.arange(1, count + 1)
    share = rng.normal(1.0, dwell_cv, count)
    strange = rng.random(count) < odd
    share[strange] = rng.choice([0.5, 0.6, 1.4], strange.sum())
    outs = ins + aim * share
    events = sorted([(t, "in", k) for k, t in enumerate(ins)], key=lambda e: e[0])
    taken = [t for t, _, _ in events]
    for k in np.argsort(outs):
        at = outs[k]
        while any(abs(at - other) < rng.uniform(2.5, 4.5) for other in taken):
            at += 0.5
        outs[k] = at
        taken.append(at)
    left_in = count > 3 and rng.random() < 0.2
    if left_in:
        outs[int(np.argmax(outs))] = np.inf
    end = 20.0 + max([60.0, *ins, *outs[np.isfinite(outs)]]) if count else 300.0
    t = np.arange(0.0, end, 1 / FINE_HZ)
    load = np.full(t.size, rng.uniform(0, 4000)) - rng.uniform(0.02, 0.4) / 60 * t
    load += 0.15 * np.sin(2 * np.pi * t / rng.uniform(90, 400))
    hung = rng.random() < 0.2
    ratio = rng.uniform(0.96, 0.99) if hung else 1.0
    truth = []
    for k in range(count):
        drag = float(rng.gamma(9.0, 1.5 / 9.0))
        film, drip = rng.uniform(1.0, 5.0), rng.uniform(0.6, 1.5)
        width_in, width_out = rng.uniform(0.4, 1.8), rng.uniform(0.4, 1.4)
        load += masses[k] * ratio * _logistic(t, ins[k], width_in)
        ring = _after(t, ins[k])
        load += np.where(
            np.isfinite(ring),
            rng.uniform(0, 7)
            * np.exp(-np.minimum(ring, 99) / 0.5)
            * np.sin(11 * np.minimum(ring, 99)),
            0.0,
        )
        if np.isfinite(outs[k]):
            load -= (masses[k] * ratio + drag) * _logistic(t, outs[k], width_out)
            wet = _after(t, outs[k] + width_out / 2)
            load -= film * np.exp(-np.minimum(wet, 99) / drip) * (wet < np.inf) * (wet < 6)
        truth.append(
            (int(numbers[k]), float(ins[k]), float(outs[k]) if np.isfinite(outs[k]) else None)
        )
    redip = None
    if count and rng.random() < 0.25:
        k = int(rng.integers(count))
        low, high = ins[k] + 18, min(outs[k], end) - 18
        quiet = [x for x in np.arange(low, high, 1.0) if all(abs(x + 2 - o) > 8 for o in taken)]
        if quiet:
            redip = float(rng.choice(quiet))
            hang = rng.uniform(2.0, 4.0)
            drip_mass = rng.uniform(1.0, 2.5)
            shape = _logistic(t, redip, 0.7) - _logistic(t, redip + hang, 0.9)
            load -= (masses[k] * ratio + drip_mass) * shape
            taken += [redip, redip + hang]
    for _ in range(int(rng.poisson(3)) if touches is None else touches):
        at, lasts = rng.uniform(2, end - 5), rng.uniform(0.3, 3.0)
        push = rng.choice([-1, 1]) * np.exp(rng.uniform(np.log(3), np.log(90)))
        load += push * (_logistic(t, at, 0.25) - _logistic(t, at + lasts, 0.25))
    if rng.random() < 0.4:
        at, lasts = rng.uniform(5, end - 5), rng.uniform(3, 20)
        window = _logistic(t, at, 1.0) - _logistic(t, at + lasts, 1.0)
        load += rng.uniform(0.5, 2.5) * np.sin(2 * np.pi * rng.uniform(0.8, 2.2) * t) * window
    changes = int(rng.poisson(0.4)) if not distractors_only else int(rng.integers(1, 4))
    for _ in range(changes):
        spots = [x for x in np.arange(6, end - 15, 1.0) if all(abs(x + 5 - o) > 11 for o in taken)]
        if spots:
            at, lasts = float(rng.choice(spots)), rng.uniform(3.0, 9.0)
            load += rng.uniform(100, 500) * np.clip((t - at - 1) / lasts, 0, 1)
            taken += list(np.arange(at, at + 12, 4.0))
    tares = []
    if count and rng.random() < 0.2:
        spots = [x for x in np.arange(6, end - 8, 1.0) if all(abs(x - o) > 7 for o in taken)]
        if spots:
            tares = [float(rng.choice(spots))]
            load -= load[np.searchsorted(t, tares[0])] * (t >= tares[0])
    width = max(1, int(rng.uniform(0.04, 0.3) * FINE_HZ))
    smooth = np.convolve(np.r_[np.full(width - 1, load[0]), load], np.ones(width) / width, "valid")
    pick = np.searchsorted(t, np.arange(0.5, end - 0.5, 1 / rate) + rng.normal(0, 0.004))
    pick = np.unique(pick[pick < t.size])
    white = rng.normal(0, rng.uniform(0.05, 0.25), pick.size)
    shown = smooth[pick] + white + 0.4 * np.r_[0.0, white[:-1]]
    times, shown = t[pick], np.round(shown / step) * step
    if count and rng.random() < 0.2:
        start = rng.uniform(10, end - 20)
        shown[(times > start) & (times < start + rng.uniform(3, 10))] = np.nan
    return {
        "t_s": times,
        "mass_g": shown,
        "masses_g": dict(sorted((int(n), float(m)) for n, m in zip(numbers, masses, strict=True))),
        "planned_s": (aim * (1 - band), aim * (1 + band)),
        "immersions": truth,
        "tares_s": tares,
        "redip_s": redip,
        "rate_hz": rate,
        "step_g": step,
    }
