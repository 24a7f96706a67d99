"""Known loads found again: each step goes to the load it suits, each run has one begin and one end."""

from collections.abc import Sequence
from itertools import combinations
from math import exp, log
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.estimation.loads.pairs import stays_up
from monitor.estimation.loads.steps import Steps
from monitor.estimation.loads.trace import Floats
from monitor.records import LoadKind

OWN_W = 0.8
"""What steps scatter by anyway. [W]"""
FAR, FAR_TIME = 3.3, 3.5
"""So many standard deviations may a step, and a run's length, lie from the load's own."""
SHORTER = 0.12
MOST_COST = 16.0
FAR_TWO = 2.0
CLEAR = 0.25
TWO_COST = 3.0
"""What it costs to take one step for two loads' at once."""
ENDLESS_S = 15 * 3600.0


class Found(NamedTuple):
    """One run of a known load: the grid steps from its first to before its last; `up` or `down` is -1 where
    no step began it or none ended it."""

    kind: int
    up: int
    down: int
    first: int
    last: int


class _Halves(NamedTuple):
    """Steps as candidates: whole ones, and halves of those that two loads made together."""

    parent: npt.NDArray[np.int64]
    watts: Floats
    sd_W: Floats
    kind: npt.NDArray[np.int64]
    """The only load that a half is for; -1 where any."""
    cost: Floats


def follow(
    found: Steps, step_s: float, kinds: Sequence[LoadKind], others: Sequence[LoadKind] = ()
) -> tuple[list[Found], npt.NDArray[np.bool_]]:
    """The runs of `kinds` in order of time, and which steps are left over. `others` may have made a part of
    a step, but are not looked for."""
    taken = np.zeros(len(found.watts), bool)
    runs: list[Found] = []
    whole = _Halves(
        np.arange(len(found.watts)), found.watts, found.sd_W,
        np.full(len(found.watts), -1), np.zeros(len(found.watts)),
    )  # fmt: skip
    _match(found, step_s, kinds, whole, taken, runs)
    _swap(found, step_s, kinds, taken, runs)
    halves = _split(found, kinds, others, taken)
    if halves is not None:
        _match(found, step_s, kinds, halves, taken, runs)
    _ends(found, step_s, kinds, taken, runs)
    runs.sort(key=lambda run: run.first)
    return runs, ~taken


def _swap(
    found: Steps, step_s: float, kinds: Sequence[LoadKind], taken: npt.NDArray[np.bool_], runs: list[Found]
) -> None:
    """Where a begin and an end are left over because the cheapest pair took the begin of one and the end of
    another, let each have its own."""
    where, stretch = found.where.tolist(), found.stretch().tolist()
    begins, ends = _suiting(found, kinds)
    ups = np.flatnonzero(~taken & begins.any(axis=0)).tolist()
    downs = np.flatnonzero(~taken & ends.any(axis=0)).tolist()
    for up in ups:
        for at, run in enumerate(runs):
            if run.first <= where[up] or not begins[run.kind, up] or stretch[up] != stretch[run.up]:
                continue
            if not _lasts(kinds[run.kind], run.last - where[up], step_s):
                continue
            found_end = next(
                (
                    (n, down)
                    for down in downs
                    if not taken[down] and run.first < where[down] < run.last
                    for n, kind in enumerate(kinds)
                    if begins[n, run.up] and ends[n, down] and _lasts(kind, where[down] - run.first, step_s)
                    and not _overlaps(found, runs, n, run.up, down, at)
                ),
                None,
            )  # fmt: skip
            if found_end and not _overlaps(found, runs, run.kind, up, run.down, at):
                n, down = found_end
                runs[at] = Found(run.kind, up, run.down, where[up], run.last)
                runs.append(Found(n, run.up, down, run.first, where[down]))
                taken[[up, down]] = True
                break


def _suiting(
    found: Steps, kinds: Sequence[LoadKind], far: float = FAR
) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    """By kind and step: whether it may begin a run, and whether it may end one."""
    start_W, end_W, sd_W = (
        np.array([[k.start_W, k.watts, k.sd_W] for k in kinds]).reshape(-1, 3).T[:, :, None]
    )  # fmt: skip
    sd = np.sqrt(sd_W**2 + OWN_W**2 + found.sd_W[None, :] ** 2)
    watts = found.watts[None, :]
    return np.abs(watts - start_W) <= far * sd, np.abs(-watts - end_W) <= far * sd


def _lasts(kind: LoadKind, steps: int, step_s: float) -> bool:
    """Whether a run may be so long."""
    return abs(log(max(0.5, steps * step_s) / kind.on_s)) <= FAR_TIME * max(kind.on_spread, 0.15)


def _match(
    found: Steps,
    step_s: float,
    kinds: Sequence[LoadKind],
    steps: _Halves,
    taken: npt.NDArray[np.bool_],
    runs: list[Found],
) -> None:
    """Take the cheapest pairs first."""
    table: list[Floats] = []
    for n, kind in enumerate(kinds):
        table += _candidates(found, step_s, n, kind, steps, taken)
    if not table:
        return
    rows = np.concatenate(table)
    rows = rows[np.argsort(rows[:, 0], kind="stable")]
    used: dict[int, set[int]] = {}
    for _, kind_n, up, down in rows.tolist():
        n, i, j = int(kind_n), int(steps.parent[int(up)]), int(steps.parent[int(down)])
        if not (_free(steps, int(up), taken, used) and _free(steps, int(down), taken, used)):
            continue
        if _overlaps(found, runs, n, i, j) or not stays_up(found, i, j, kinds[n].watts):
            continue
        runs.append(Found(n, i, j, int(found.where[i]), int(found.where[j])))
        for half in (int(up), int(down)):
            if steps.kind[half] < 0:
                taken[steps.parent[half]] = True
            else:
                used.setdefault(int(steps.parent[half]), set()).add(half)
    for parent in used:
        taken[parent] = True


def _free(steps: _Halves, half: int, taken: npt.NDArray[np.bool_], used: dict[int, set[int]]) -> bool:
    parent = int(steps.parent[half])
    if steps.kind[half] < 0:
        return not taken[parent] and parent not in used
    others = used.get(parent, set())
    # The two halves of one split stand side by side: half n belongs with n ^ 1 of its pair.
    return not taken[parent] and half not in others and all(steps.cost[o] == steps.cost[half] for o in others)


def _candidates(
    found: Steps, step_s: float, n: int, kind: LoadKind, steps: _Halves, taken: npt.NDArray[np.bool_]
) -> list[Floats]:
    open_ = ~taken[steps.parent] & ((steps.kind < 0) | (steps.kind == n))
    sd = np.sqrt(kind.sd_W**2 + steps.sd_W**2 + OWN_W**2)
    z_up, z_down = (steps.watts - kind.start_W) / sd, (-steps.watts - kind.watts) / sd
    ups = np.flatnonzero(open_ & (np.abs(z_up) <= FAR))
    downs = np.flatnonzero(open_ & (np.abs(z_down) <= FAR))
    if not ups.size or not downs.size:
        return []
    where = found.where[steps.parent]
    seconds = (where[downs][None, :] - where[ups][:, None]) * step_s
    z_time = (np.log(np.maximum(seconds, 0.5)) - log(kind.on_s)) / max(kind.on_spread, 0.15)
    stretch = found.stretch()[steps.parent]
    fits = (seconds > 0) & (seconds <= ENDLESS_S) & (np.abs(z_time) <= FAR_TIME)
    fits &= stretch[ups][:, None] == stretch[downs][None, :]
    a, b = np.nonzero(fits)
    cost = (
        (z_up[ups] ** 2 + steps.cost[ups])[a]
        + (z_down[downs] ** 2 + steps.cost[downs])[b]
        + 0.5 * z_time[a, b] ** 2
        + SHORTER * np.log1p(seconds[a, b] / 10)
    )
    cheap = cost <= MOST_COST
    rows = np.stack(
        [cost, np.full(cost.size, float(n)), ups[a].astype(float), downs[b].astype(float)], axis=1
    )
    return [rows[cheap]]


def _overlaps(found: Steps, runs: list[Found], n: int, up: int, down: int, but: int = -1) -> bool:
    """Whether a load that is only there once would run twice; run `but` is not counted."""
    first, last = found.where[up], found.where[down]
    return any(r.kind == n and r.first < last and first < r.last for at, r in enumerate(runs) if at != but)


def _split(
    found: Steps, kinds: Sequence[LoadKind], others: Sequence[LoadKind], taken: npt.NDArray[np.bool_]
) -> _Halves | None:
    """Steps that suit no load may be two loads' at once: one on and one on, or one on and one off."""
    both = [(n, sign, kind) for n, kind in enumerate((*kinds, *others)) for sign in (1, -1)]
    pairs = [(a, b) for a, b in combinations(both, 2) if a[0] != b[0] and a[0] < len(kinds)]
    sizes = np.array([[k.start_W if sign > 0 else -k.watts for _, sign, k in pair] for pair in pairs])
    sizes = sizes.reshape(-1, 2)
    # One off as another goes on, of the same power, cannot be told from nothing.
    clear = np.abs(sizes.sum(axis=1)) > CLEAR * np.abs(sizes).max(axis=1, initial=0.0)
    pairs, sizes = [pair for pair, told in zip(pairs, clear.tolist(), strict=True) if told], sizes[clear]
    begins, ends = _suiting(found, others, FAR_TWO)
    free = np.flatnonzero(~taken & ~begins.any(axis=0) & ~ends.any(axis=0))
    if not pairs or not free.size:
        return None
    variances = np.array([sum(k.sd_W**2 for _, _, k in pair) for pair in pairs])
    only = np.array([[n for n, _, _ in pair] for pair in pairs])
    off = found.watts[free][:, None] - sizes.sum(axis=1)[None, :]
    z = off / np.sqrt(variances[None, :] + found.sd_W[free][:, None] ** 2 + OWN_W**2)
    step, pair = np.nonzero(np.abs(z) <= FAR_TWO)
    cost = TWO_COST + 0.5 * z[step, pair] ** 2 + 1e-6 * np.arange(step.size)  # no two splits cost the same
    free_too = np.flatnonzero(~taken)  # whole steps that are still free may be the other end of a half
    return _Halves(
        np.concatenate((np.repeat(free[step], 2), free_too)),
        np.concatenate((sizes[pair].ravel(), found.watts[free_too])),
        np.concatenate((np.repeat(found.sd_W[free[step]], 2), found.sd_W[free_too])),
        np.concatenate((only[pair].ravel(), np.full(free_too.size, -1))),
        np.concatenate((np.repeat(cost, 2), np.zeros(free_too.size))),
    )


def _ends(
    found: Steps, step_s: float, kinds: Sequence[LoadKind], taken: npt.NDArray[np.bool_], runs: list[Found]
) -> None:
    """Runs of cycling loads that began before what was heard, or had not ended when that did."""
    begins, ends = _suiting(found, kinds)
    where = found.where
    for n, kind in enumerate(kinds):
        if kind.how != "cycles":
            continue
        most = kind.on_s * exp(2 * max(kind.on_spread, 0.15)) / step_s
        for first, last in found.spans.tolist():
            inside = ~taken & (where > first) & (where < last)
            downs, ups = np.flatnonzero(inside & ends[n]), np.flatnonzero(inside & begins[n])
            own = [run for run in runs if run.kind == n and run.first < last and run.last > first]
            end = int(where[downs[0]]) if downs.size else last
            if end < min(last, first + most) and all(run.first >= end for run in own):
                own.append(Found(n, -1, int(downs[0]), first, end))
                runs.append(own[-1])
                taken[downs[0]] = True
            begin = int(where[ups[-1]]) if ups.size else first
            if begin > max(first, last - most) and all(run.last <= begin for run in own):
                runs.append(Found(n, int(ups[-1]), -1, begin, last))
                taken[ups[-1]] = True
