"""Forward and backward through the chances of level, flow, pause and touch, mean by mean.

Pure; used by logger.science.statistics.pourstart, which says what each mean tells. The mass lies
on a grid; each flow moves the chances along it, and a hand hides it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]

FLOWS_G_S = np.array((0.2, 0.4, 0.75, 1.3, 2.1, 3.3, 5.5, 9.0))
EDGE_S = 2.0
"""A pour does not begin so near the first reading [s]: there was no level to begin from."""

# Chances a second: prior knowledge of hands at a bench, common practice, no source.
_BEGINS, _RESUMES, _WANDERS, _LEAPS = 1 / 100, 1 / 6, 0.7, 0.03
_SPURT_G = 20.0
"""Mean mass that comes between two pauses [g]."""
_TOUCHED, _LET_GO = 1 / 20, 1 / 1.5
_CREEPS = 1 / 20
_PUT_IN, _PUT_IN_BY_HAND = 1e-6, 1e-4
"""Chance in a mean that the level leaps anywhere; while touched."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Step:
    """How the chances move from one mean to the next."""

    flows: Array
    """From and to each flow: level, the flows, paused; shape (s, s)."""
    touched: float
    let_go: float
    creeps: float
    part: Array
    forth: tuple[Places, Places]
    back: tuple[Places, Places]


class PourChain:
    """The chances of each flow, touched or not, at each mass of the grid.

    Arrays of chances have the shape (flows + 2, 2, grid): level, flows, paused; untouched, touched.

    Parameters
    ----------
    t_s : ndarray
        Times of the means [s], ascending, shape (n,).
    free : ndarray
        Density of each mean at each mass, untouched [1/g], shape (n, grid).
    held : ndarray
        Density of each mean under a hand [1/g], shape (n,).
    cell_g : float
        Width of a cell of the grid of masses [g].
    creep_g : float
        How far a level creeps at a time [g].

    References
    ----------
    Rabiner, L. R. (1989), A tutorial on hidden Markov models, Proc. IEEE 77, 257-286, equations
    19 to 27 and 90 to 92 (scaling), DOI 10.1109/5.18626 (from memory).
    """

    def __init__(
        self, t_s: Array, free: Array, held: Array, *, cell_g: float, creep_g: float
    ) -> None:
        self.t_s = t_s
        self.cell_g = cell_g
        self.size = free.shape[1]
        self.states = FLOWS_G_S.size + 2
        self.free = free
        self.held = held
        self.creep = max(1, round(creep_g / cell_g))
        self.put_in = np.array((_PUT_IN, _PUT_IN_BY_HAND))[None, :, None]
        self._padded = np.zeros((self.states, 2, self.size + 1))
        self._steps: dict[tuple[int, bool], _Step] = {}

    def left_level(self) -> Array | None:
        """Return the chance that the level was left for good after each mean, by mass.

        Returns
        -------
        ndarray or None
            Shape (n - 1, grid); its sum is the chance that a pour began. None if nothing fits.
        """
        count, shape = self.t_s.size, (self.states, 2, self.size)
        now = np.zeros(shape)
        now[0, 0], now[0, 1] = 0.7 * self.free[0], 0.3 * self.held[0]
        now /= max(float(now.sum()), 1e-300)
        level, scale = np.empty((count, 2, self.size)), np.ones(count)
        level[0] = now[0]
        for k in range(1, count):
            now = self._forth(now, k)
            scale[k] = now.sum()
            if not scale[k] > 0.0:
                return None
            now /= scale[k]
            level[k] = now[0]
        left, later = np.zeros((count - 1, self.size)), np.ones(shape)
        for k in range(count - 1, 0, -1):
            later, begun = self._back(later, k, float(scale[k]))
            left[k - 1] = (level[k - 1] * begun).sum(axis=0)
        return left

    def _forth(self, now: Array, k: int) -> Array:
        step = self._step(k)
        now = (step.flows.T @ now.reshape(self.states, -1)).reshape(now.shape)
        now = self._moved(now, step.part, step.forth)
        self._creep(now, step.creeps)
        let_go = now[:, 0] * (1.0 - step.touched) + now[:, 1] * step.let_go
        now[:, 1] = (now[:, 0] * step.touched + now[:, 1] * (1.0 - step.let_go)) * self.held[k]
        now[:, 0] = let_go * self.free[k]
        return now

    def _back(self, later: Array, k: int, scale: float) -> tuple[Array, Array]:
        """Return what is seen from `k` on given the state before, and given a pour that begins."""
        step = self._step(k)
        free, held = later[:, 0] * (self.free[k] / scale), later[:, 1] * (self.held[k] / scale)
        seen = np.empty_like(later)
        seen[:, 0] = (1.0 - step.touched) * free + step.touched * held
        seen[:, 1] = step.let_go * free + (1.0 - step.let_go) * held
        self._creep(seen, step.creeps)
        seen = self._moved(seen, step.part, step.back)
        begun = np.tensordot(step.flows[0, 1:-1], seen[1:-1], 1)
        return (step.flows @ seen.reshape(self.states, -1)).reshape(seen.shape), begun

    def _moved(self, chances: Array, part: Array, to: tuple[Places, Places]) -> Array:
        """Move each flow's chances by what flows: between two whole cells."""
        self._padded[:, :, : self.size] = chances
        flat = self._padded.reshape(-1)
        moved = flat.take(to[0])
        moved *= 1.0 - part
        moved += part * flat.take(to[1])
        return moved

    def _creep(self, chances: Array, creeps: float) -> None:
        """Let level and pause creep a little, or leap to anywhere; the same forth and back."""
        rests, wide, size = chances[[0, -1]], self.creep, self.size
        summed = np.zeros((2, 2, size + 2 * wide + 1))
        np.cumsum(rests, axis=2, out=summed[:, :, wide + 1 : wide + 1 + size])
        summed[:, :, wide + 1 + size :] = summed[:, :, wide + size : wide + size + 1]
        near = (summed[:, :, 2 * wide + 1 :] - summed[:, :, :size]) / (2 * wide + 1)
        anywhere = rests.mean(axis=2, keepdims=True)
        stays = 1.0 - self.put_in - creeps
        chances[[0, -1]] = stays * rests + self.put_in * anywhere + creeps * near

    def _step(self, k: int) -> _Step:
        gap_s = float(self.t_s[k] - self.t_s[k - 1])
        early = bool(self.t_s[k] - self.t_s[0] < EDGE_S)
        key = (max(round(gap_s / 0.02), 1), early)
        if key not in self._steps:
            self._steps[key] = self._make(0.02 * key[0], early=early)
        return self._steps[key]

    def _make(self, gap_s: float, *, early: bool) -> _Step:
        cells = np.concatenate(([0.0], FLOWS_G_S * gap_s / self.cell_g, [0.0]))
        whole = np.floor(cells).astype(np.intp)
        return _Step(
            flows=_flow_changes(gap_s, early=early),
            touched=_chance(_TOUCHED, gap_s),
            let_go=_chance(_LET_GO, gap_s),
            creeps=_chance(_CREEPS, gap_s),
            part=np.asarray(cells - whole, dtype=np.float64)[:, None, None],
            forth=(self._places(-whole), self._places(-whole - 1)),
            back=(self._places(whole), self._places(whole + 1)),
        )

    def _places(self, by: Places) -> Places:
        """Return where each cell's chance comes from; from the empty last cell if off the grid."""
        rows = np.arange(2 * self.states).reshape(self.states, 2, 1) * (self.size + 1)
        source = np.arange(self.size)[None, None, :] + by[:, None, None]
        inside = (source >= 0) & (source < self.size)
        return np.asarray(rows + np.where(inside, source, self.size), dtype=np.intp)


def _chance(a_second: float, gap_s: float) -> float:
    return -math.expm1(-a_second * gap_s)


def _flow_changes(gap_s: float, *, early: bool) -> Array:
    """Chances of going from level, each flow and paused to each of them, shape (s, s)."""
    count = FLOWS_G_S.size
    changes = np.zeros((count + 2, count + 2))
    begins = 0.0 if early else _chance(_BEGINS, gap_s)
    changes[0, 0], changes[0, 1:-1] = 1.0 - begins, begins / count
    wanders, leaps = _chance(_WANDERS, gap_s), _chance(_LEAPS, gap_s)
    for row, flow_g_s in enumerate(FLOWS_G_S, start=1):
        stops = _chance(flow_g_s / _SPURT_G, gap_s)
        changes[row, -1] = stops
        changes[row, 1:-1] += (1.0 - stops) * leaps / count
        stays = (1.0 - stops) * (1.0 - leaps)
        changes[row, row] += stays * (1.0 - wanders)
        for near in (row - 1, row + 1):
            changes[row, near if 1 <= near <= count else row] += 0.5 * stays * wanders
    resumes = _chance(_RESUMES, gap_s)
    changes[-1, -1], changes[-1, 1:-1] = 1.0 - resumes, resumes / count
    return changes
