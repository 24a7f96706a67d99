"""Forecasts followed until it is known what came of them, and how often the cautious day held.

Two kinds are followed. One with the charging usual for the mode: its truth is the day on which the bank
meets its reserve, and once the cautious day has passed it has held. One with no charging at all: its
truth is the day by which as much has been used as lay above the reserve, so that it comes true within
days, whatever was charged meanwhile; this is the score that tells something.

Time is UTC. Time in which nothing was heard is counted, and a forecast with too much of it is void.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from monitor.clock import DAY_S, HOUR_S, MINUTE_S

HORIZON_DAYS = 10.0
EVERY_S = 6 * HOUR_S
"""How often forecasts are made that are followed: those that overlap do not count as many."""
VOID_AFTER_S = 3 * HOUR_S
_LEAST_DAYS = 1 / 24
"""A cautious day nearer than this promises nothing."""
ENOUGH = 3.0
"""Forecasts that do not overlap, until a share is told."""
_JEFFREYS = 0.5


class Promise(NamedTuple):
    """A forecast that is followed. `limit_Wh` is the reading of the counter of use at which what lay
    above the reserve is used; `deaf_s` how long had not been heard when it was made."""

    made_at_s: float
    cautious_days: float
    likely_days: float
    limit_Wh: float
    deaf_s: float


class Outcome(NamedTuple):
    """What came of one. `truth_days` is None while the reserve had not been met when it was settled:
    the cautious day was outlived (with charging) or the whole horizon (with none)."""

    charging: bool
    made_at_s: float
    cautious_days: float
    likely_days: float
    truth_days: float | None
    held: bool


class Hits(NamedTuple):
    """The share of forecasts whose cautious day held, with its 90 % band; None until there are enough."""

    share: float | None
    low: float | None
    high: float | None
    forecasts: int
    held: int


class Scores:
    """Takes every minute and every forecast; settles what can be settled."""

    def __init__(self) -> None:
        self._pending: dict[bool, list[Promise]] = {True: [], False: []}
        """By whether the usual charging was counted on, the oldest first."""
        self._settled: dict[bool, list[float]] = {True: [0, 0, 0.0, 0.0], False: [0, 0, 0.0, 0.0]}
        """Forecasts, held; the same as if they did not overlap."""
        self._used_Wh = self._deaf_s = 0.0
        self._at_s: float | None = None
        self._told: dict[bool, Hits] = {}
        """The shares as they stand, until another forecast is settled."""

    def promise(
        self, utc_s: float, cautious_days: float, likely_days: float, above_Wh: float, charging: bool
    ) -> None:
        """Follow a forecast made now, with so much above the reserve."""
        if above_Wh > 0 and cautious_days >= _LEAST_DAYS:
            limit_Wh = self._used_Wh + above_Wh
            made = Promise(utc_s, cautious_days, likely_days, limit_Wh, self._deaf_s)
            self._pending[charging].append(made)

    def see(self, utc_s: float, used_Wh: float | None, above_Wh: float | None) -> list[Outcome]:
        """A minute that ends now: what was used in it, and what lies above the reserve at its end."""
        self._elapse(utc_s, known=used_Wh is not None and above_Wh is not None)
        self._used_Wh += used_Wh or 0.0
        found = []
        for charging, pending in self._pending.items():
            kept = []
            for promise in pending:
                if self._deaf_s - promise.deaf_s > VOID_AFTER_S:
                    continue
                outcome = self._settle(promise, charging, utc_s, above_Wh)
                if outcome is None:
                    kept.append(promise)
                else:
                    self._count(outcome, utc_s)
                    found.append(outcome)
            self._pending[charging] = kept
        return found

    def hits(self, charging: bool) -> Hits:
        """How often the cautious day has held: see `_hits`."""
        if charging not in self._told:
            self._told[charging] = self._hits(charging)
        return self._told[charging]

    def _hits(self, charging: bool) -> Hits:
        """The share and its band.

        The band is that of Jeffreys' beta posterior. Forecasts that run side by side tell the same
        story: each counts as the part of its own span that lies between two forecasts.
        """
        count, held, alone, alone_held = self._settled[charging]
        if alone < ENOUGH:
            return Hits(None, None, None, int(count), int(held))
        low, high = beta_quantiles(_JEFFREYS + alone_held, _JEFFREYS + alone - alone_held, (0.05, 0.95))
        share = held / count
        return Hits(share, min(low, share), max(high, share), int(count), int(held))

    def state(self) -> dict[str, Any]:
        """Whole minutes, hundredths of a day and whole Wh: some 25 bytes a forecast, up to 80 of them."""
        origin_s = min((p.made_at_s for pending in self._pending.values() for p in pending), default=0.0)

        def packed(p: Promise) -> list[int]:
            return [
                round((p.made_at_s - origin_s) / MINUTE_S),
                round(p.cautious_days * 100),
                round(p.likely_days * 100),
                round(p.limit_Wh - self._used_Wh),
                round(self._deaf_s - p.deaf_s),
            ]

        return {
            "at_s": self._at_s,
            "origin_s": origin_s,
            "with": [packed(p) for p in self._pending[True]],
            "none": [packed(p) for p in self._pending[False]],
            "settled": [[round(n, 3) for n in self._settled[charging]] for charging in (True, False)],
        }

    def restore(self, state: Mapping[str, Any]) -> None:
        """The inverse of `state`."""
        origin_s = float(state["origin_s"])

        def unpacked(rows: list[list[int]]) -> list[Promise]:
            return [
                Promise(origin_s + made * MINUTE_S, cautious / 100, likely / 100, float(limit), -float(deaf))
                for made, cautious, likely, limit, deaf in rows
            ]

        pending = {True: unpacked(state["with"]), False: unpacked(state["none"])}
        charged, none = ([float(n) for n in row] for row in state["settled"])
        at_s = None if state["at_s"] is None else float(state["at_s"])
        self._pending, self._settled, self._at_s = pending, {True: charged, False: none}, at_s
        self._used_Wh = self._deaf_s = 0.0
        self._told = {}

    def _elapse(self, utc_s: float, known: bool) -> None:
        """Count what was not heard; a clock set back makes void what it cannot have seen made."""
        if self._at_s is not None:
            passed_s = utc_s - self._at_s
            if passed_s < -HOUR_S:
                self._pending = {True: [], False: []}
            self._deaf_s += max(0.0, passed_s - MINUTE_S)
        if not known:
            self._deaf_s += MINUTE_S
        self._at_s = utc_s

    def _settle(self, p: Promise, charging: bool, utc_s: float, above_Wh: float | None) -> Outcome | None:
        days = (utc_s - p.made_at_s) / DAY_S
        gone, outlived = self._used_Wh >= p.limit_Wh, days >= HORIZON_DAYS
        if charging:
            gone, outlived = above_Wh is not None and above_Wh <= 0, days >= p.cautious_days
        if not gone and not outlived:
            return None
        held = days >= p.cautious_days
        return Outcome(charging, p.made_at_s, p.cautious_days, p.likely_days, days if gone else None, held)

    def _count(self, outcome: Outcome, utc_s: float) -> None:
        alone = min(1.0, EVERY_S / max(utc_s - outcome.made_at_s, 1.0))
        self._told.pop(outcome.charging, None)
        settled = self._settled[outcome.charging]
        for n, amount in enumerate((1, outcome.held, alone, alone * outcome.held)):
            settled[n] += amount


def beta_quantiles(a: float, b: float, shares: tuple[float, ...]) -> tuple[float, ...]:
    """Quantiles of the beta distribution with density x^(a-1) (1-x)^(b-1), to some 1e-4.

    Over sin² of equal steps, where its poles at 0 and 1 (a, b >= 1/2) are finite.
    """
    angle = (np.arange(4000) + 0.5) * (np.pi / 2 / 4000)
    log_density = (2 * a - 1) * np.log(np.sin(angle)) + (2 * b - 1) * np.log(np.cos(angle))
    mass = np.cumsum(np.exp(log_density - log_density.max()))
    ends = np.sin(np.append(0.0, angle + np.pi / 16000)) ** 2
    return tuple(float(np.interp(share, np.append(0.0, mass / mass[-1]), ends)) for share in shares)
