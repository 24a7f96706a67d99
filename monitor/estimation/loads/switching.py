"""What somebody switched, told by steps and levels together: the likeliest sequence of what was on.

Between two steps every load is on or off. A sequence of such states costs what its steps and levels lie off
(half the square of z, up to a limit: an unknown load may have made them), what switching costs (by how
seldom a load is switched) and what staying on costs (by how long it usually burns). The cheapest sequence is
found by dynamic programming over all states at once (Viterbi 1967; loads as binary chains of one sum are a
factorial hidden Markov model, Ghahramani and Jordan 1997).
"""

from collections.abc import Sequence
from itertools import combinations
from math import log
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.estimation.loads.floor import WANDERS_W
from monitor.estimation.loads.following import Found
from monitor.estimation.loads.steps import Steps
from monitor.estimation.loads.trace import Floats, Trace
from monitor.records import LoadKind

MOST = 11
"""So many loads are told at once: 2^11 states."""
OWN_W = 0.8
"""What steps scatter by anyway. [W]"""
FAR = 3.3
"""So many standard deviations may a step lie from a load's own."""
UNKNOWN = 12.0
"""A step that no load makes: about one an hour, of any size to 40 W, as a negative logarithm."""
BASE_SD_W, BASE_SD = 0.8, 0.03
"""What stands is known to so much, and so much of what burns."""
PER_S = 1800.0
"""Levels speak once in so long: they err together."""
BELOW, ABOVE = 30.0, 0.7
"""The most a level costs that lies too low, or too high: something unknown may be on."""
DAY_S = 86400.0
LEAST_OFF_S = 7200.0
WILD_S, CALM_S = 300.0, 40.0
"""So long what is calm may vary, and what varies may seem calm, for a cost of 1. [s]"""
VARIES_LEAST_W, VARIES_SD_W = 8.0, 15.0
TWO = 2.0
"""What it costs to take one step for two loads' at once."""
LONGER = 2.5
"""Loads burn so many times their usual, as a rule, before it costs 1: long runs are not rare."""
FAR_TIME, LEAST_SPREAD, MOST_SPREAD = 2.5, 0.4, 1.0
"""A run may be so many times its spread (of logarithms) longer or shorter than usual,"""
MANY, KNOWN_SPREAD = 10, 0.15
"""and from so many runs on that spread is known: it may be smaller."""
INSIDE = 1.5
"""What an own step of what varies costs."""


class _Move(NamedTuple):
    """Loads switched at one step: from which states to which."""

    watts: float
    variance: float
    cost: float
    come: npt.NDArray[np.int64]
    go: npt.NDArray[np.int64]
    varies: bool


def switched(
    trace: Trace, found: Steps, kinds: Sequence[LoadKind], wild: Floats, stands_W: float
) -> list[Found]:
    """The runs of these loads (`runs` and at most one that `varies`), in order of time.

    Args:
        wild: How much the power wanders, by step of the trace. [W]
        stands_W: What never goes off.
    """
    if not kinds:
        return []
    heard = np.isfinite(trace.watts)
    corners = np.flatnonzero(np.diff(np.concatenate(([0], heard.astype(np.int8), [0]))))
    model = _Model(kinds)
    runs: list[Found] = []
    for first, last in zip(corners[::2].tolist(), corners[1::2].tolist(), strict=True):
        inside = np.flatnonzero((found.where > first) & (found.where < last))
        runs += model.likeliest(trace, found, inside, (first, last), wild, stands_W)
    return sorted(runs, key=lambda run: (run.first, run.last))


class _Model:
    """The states of some loads, and what changes between them."""

    def __init__(self, kinds: Sequence[LoadKind]) -> None:
        self.kinds = kinds
        count = len(kinds)
        self.on: npt.NDArray[np.int64] = (np.arange(2**count)[:, None] >> np.arange(count)[None, :]) & 1
        varies = np.array([kind.how == "varies" for kind in kinds])
        watts = np.array([0.5 * (kind.start_W + kind.watts) for kind in kinds])
        self.adds_W: Floats = np.asarray(self.on @ np.where(varies, 0.0, watts), np.float64)
        self.wanders = (self.on @ varies.astype(np.int64)) > 0
        self.stay: Floats = self.on @ (1.0 / np.array([LONGER * max(60.0, kind.on_s) for kind in kinds]))
        off_s = [max(LEAST_OFF_S, DAY_S * kind.nights / max(1, kind.runs)) for kind in kinds]
        self.begin: Floats = self.on @ np.log(
            np.array([1 + o / k.on_s for o, k in zip(off_s, kinds, strict=True)])
        )
        one = [
            (
                n,
                sign,
                kind.start_W if sign > 0 else -kind.watts,
                log(off_s[n] if sign > 0 else max(60.0, kind.on_s)),
            )
            for n, kind in enumerate(kinds)
            for sign in (1, -1)
        ]
        self.moves = [self._move([part]) for part in one]
        self.moves += [self._move([a, b]) for a, b in combinations(one, 2) if a[0] != b[0]]
        self.sizes = np.array([move.watts for move in self.moves])
        self.variances = np.array([move.variance for move in self.moves])

    def _move(self, parts: Sequence[tuple[int, int, float, float]]) -> _Move:
        fits = np.ones(len(self.on), bool)
        changed = 0
        for n, sign, _, _ in parts:
            fits &= self.on[:, n] == (0 if sign > 0 else 1)
            changed ^= 1 << n
        come = np.flatnonzero(fits)
        varies = any(self.kinds[n].how == "varies" for n, _, _, _ in parts)
        variance = sum(
            VARIES_SD_W**2 if self.kinds[n].how == "varies" else self.kinds[n].sd_W ** 2
            for n, _, _, _ in parts
        )
        return _Move(
            sum(watts for _, _, watts, _ in parts), variance,
            sum(cost for *_, cost in parts) + TWO * (len(parts) - 1),
            come, come ^ changed, varies,
        )  # fmt: skip

    def likeliest(
        self, trace: Trace, found: Steps, inside: npt.NDArray[np.int64], span: tuple[int, int],
        wild: Floats, stands_W: float,
    ) -> list[Found]:  # fmt: skip
        """The runs within one stretch without a gap."""
        edges = np.concatenate(([span[0]], found.where[inside], [span[1]]))
        total = np.concatenate(([0.0], np.cumsum(trace.watts[span[0] : span[1]])))
        wildly = np.concatenate(([0.0], np.cumsum(wild[span[0] : span[1]] > WANDERS_W)))
        at = edges - span[0]
        length = np.maximum(1, np.diff(at))
        levels, wanders = np.diff(total[at]) / length, np.diff(wildly[at]) / length
        seconds = length * trace.step_s
        cost = self.begin + self._dwells(float(levels[0] - stands_W), float(wanders[0]), float(seconds[0]))
        states = np.arange(len(self.on))
        came = np.empty((len(inside), len(states)), np.int64)
        for m, n in enumerate(inside.tolist()):
            cost, came[m] = self._switches(cost, float(found.watts[n]), float(found.sd_W[n]), states)
            cost = cost + self._dwells(
                float(levels[m + 1] - stands_W), float(wanders[m + 1]), float(seconds[m + 1])
            )
        state = int((cost + self.begin).argmin())
        path = [state]
        for m in range(len(inside) - 1, -1, -1):
            state = int(came[m][state])
            path.append(state)
        return self._runs(path[::-1], edges, inside, trace.step_s)

    def _dwells(self, above_W: float, wanders: float, seconds: float) -> Floats:
        """What each state costs between two steps."""
        off = above_W - self.adds_W
        sd = BASE_SD_W + BASE_SD * self.adds_W
        z2 = 0.5 * (off / sd) ** 2
        plain = np.where(off < 0, np.minimum(z2, BELOW), np.minimum(z2, ABOVE))
        short = np.minimum(0.5 * ((off - VARIES_LEAST_W) / 2.0) ** 2, BELOW)
        level = np.where(self.wanders, np.where(off < VARIES_LEAST_W, short, 0.0), plain)
        wrong = np.where(self.wanders, (1 - wanders) / CALM_S, wanders / WILD_S)
        found: Floats = level * (seconds / PER_S) + (wrong + self.stay) * seconds
        return found

    def _switches(
        self, cost: Floats, watts: float, sd: float, states: npt.NDArray[np.int64]
    ) -> tuple[Floats, npt.NDArray[np.int64]]:
        """The cheapest way to each state through one step."""
        variance = sd**2 + OWN_W**2
        nothing = min(UNKNOWN, 0.5 * watts**2 / variance)
        best = cost + np.where(self.wanders & (abs(watts) < VARIES_SD_W), min(INSIDE, nothing), nothing)
        came = states.copy()
        z2 = (watts - self.sizes) ** 2 / (variance + self.variances)
        for n in np.flatnonzero(z2 <= FAR**2).tolist():
            move = self.moves[n]
            through = cost[move.come] + (move.cost + 0.5 * float(z2[n]))
            better = through < best[move.go]
            to = move.go[better]
            best[to] = through[better]
            came[to] = move.come[better]
        return best, came

    def _runs(
        self, path: list[int], edges: npt.NDArray[np.int64], inside: npt.NDArray[np.int64], step_s: float
    ) -> list[Found]:
        on = self.on[path]
        runs = []
        for n in range(on.shape[1]):
            corners = np.flatnonzero(np.diff(np.concatenate(([0], on[:, n], [0]))))
            for a, b in zip(corners[::2].tolist(), corners[1::2].tolist(), strict=True):
                up = int(inside[a - 1]) if a > 0 else -1
                down = int(inside[b - 1]) if b - 1 < len(inside) and b < len(path) else -1
                run = Found(n, up, down, int(edges[a]), int(edges[b]))
                if self._likely(run, step_s):
                    runs.append(run)
        return runs

    def _likely(self, run: Found, step_s: float) -> bool:
        """Whether it is as long as the load's runs may be; one without an end may only be too long."""
        kind = self.kinds[run.kind]
        least = LEAST_SPREAD if kind.runs < MANY else KNOWN_SPREAD
        spread = FAR_TIME * min(MOST_SPREAD, max(least, kind.on_spread))
        off = log((run.last - run.first) * step_s / kind.on_s)
        return off <= spread and (off >= -spread or run.up < 0 or run.down < 0)
