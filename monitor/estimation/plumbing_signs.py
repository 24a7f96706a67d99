"""The signs of one pump's plumbing, weighed: how likely each verdict is, and the figures that go with it."""

from collections.abc import Mapping

from monitor.clock import HOUR_S
from monitor.estimation.leak import SUSPECTED
from monitor.estimation.leak import TIGHT as JUDGED_TIGHT
from monitor.estimation.plumbing_at_once import ALARM_SHARE, AtOnce
from monitor.estimation.plumbing_balance import CLEAR, CLOGGED, Balance
from monitor.estimation.plumbing_habits import group
from monitor.estimation.plumbing_refills import SHORT_RUNS, Refills
from monitor.estimation.plumbing_told import Told
from monitor.estimation.plumbing_verdicts import (
    ABOVE,
    CHECK_VALVE,
    DECIDED,
    DOWNSTREAM,
    FEW,
    LEAK,
    NO,
    NONE,
    TAP,
    TIGHT,
    UNKNOWN,
    YES,
    chances,
)
from monitor.records import Estimate
from monitor.settings import Pump

DRIP_L_PER_H = 6.0
"""Faster drops make a stream: some five of a third of a millilitre a second (USGS's drip)."""
STILL_AWAKE_S = 10 * HOUR_S
"""So many waking hours aboard without one start."""
USED_L, USED_SHARE = 6.0, 0.02
"""Water that has gone meanwhile."""

Rate = tuple[float, float | None, float | None]
"""Litres an hour: likely, and the band."""


class Signs:
    """What speaks for which verdict."""

    def __init__(
        self, pump: Pump, promised_s: float, at_once: AtOnce, balance: Balance, refills: Refills
    ) -> None:
        self.name = pump.name
        self._accumulates, self._promised_s = pump.accumulator is not None, promised_s
        self._now, self.balance, self.refills = at_once, balance, refills
        self.at_s = 0.0
        self.judged = UNKNOWN
        """The leak judge's verdict."""
        self.estimates: Mapping[tuple[str, str], Estimate] = {}
        """Of the water desk."""
        self.still_awake_s = 0.0
        """Waking hours aboard since the latest start."""
        self.ran_ever = False
        self.signs: dict[str, str | None] = {}
        self.chances = chances({})
        self._returned = 0.0
        self.weigh()

    def weigh(self) -> None:
        told, refills, balance = self.judged, self.refills, self.balance
        signs: dict[str, str | None] = {}
        starts = refills.asleep_starts(self.at_s, 12 * HOUR_S)
        some = FEW if starts >= 2 else None
        signs["refills"] = {SUSPECTED: LEAK, JUDGED_TIGHT: NONE}.get(told, some)
        leak = self._leak_L_per_h()
        flows = refills.stream(self.at_s, group(self._now.mode)) is not None
        flows = flows or (leak is not None and leak[0] >= DRIP_L_PER_H)
        signs["stream"] = YES if flows else NO if self._now.ran_s is not None else None
        alone, spans = balance.falls_alone(), balance.spans()
        calm = bool(spans) and max(s.hours for s in spans) > 7.5 and max(s.sigmas for s in spans) < 3.0
        signs["falls alone"] = YES if alone else NO if calm else None
        signs["with heating"] = {True: YES, False: NO, None: None}[refills.with_heating()]
        cooled = refills.cooled_L(self.at_s)
        signs["cooling explains"] = YES if cooled else NO if starts >= 3 else None
        short = refills.short() if self._accumulates else None
        signs["short refills"] = None if short is None else YES if short[0] >= SHORT_RUNS else NO
        share = balance.flow_share()
        signs["flow low"] = (
            None if share is None else YES if share < CLOGGED else NO if share > CLEAR else None
        )
        signs["no start"] = self._no_start()
        signs["run"] = self._now.clause().fault or ("usual" if self._now.ran_s is not None else None)
        clearest = balance.clearest() if signs["refills"] in (LEAK, FEW) else None
        returned = round(clearest.returned(), 1) if clearest else 0.0
        if signs != self.signs or returned != self._returned:
            self.signs, self._returned = signs, returned
            self.chances = chances(signs, returned)

    def _no_start(self) -> str | None:
        if self.still_awake_s < STILL_AWAKE_S:
            return NO if self.ran_ever and (self._now.ran_s or 0.0) < HOUR_S else None
        gone_L = self.balance.fallen_L(12.0)
        if gone_L is None:
            return None
        return YES if gone_L >= max(USED_L, USED_SHARE * self._now.capacity_L) else None

    def _leak_L_per_h(self) -> Rate | None:
        leak = self.estimates.get(("leak_L_per_h", self.name))
        return None if leak is None or leak.value is None else (leak.value, leak.low, leak.high)

    def likeliest(self) -> str:
        """The likeliest verdict, or that not enough is known."""
        name, chance = next(iter(self.chances.items()))
        undecided = chance < DECIDED or (name == TIGHT and self.judged != JUDGED_TIGHT)
        return UNKNOWN if undecided else name

    def rate(self, name: str) -> Rate | None:
        """Litres an hour that go by this fault, with their band."""
        if name == ABOVE:
            alone = self.balance.falls_alone()
            if alone is None:
                return None
            half = 1.645 * alone.spread_L
            likely, half = alone.litres / alone.hours, half / alone.hours
            return likely, likely - half, likely + half
        stream = self.refills.stream(self.at_s, group(self._now.mode))
        if name == TAP and stream is not None:
            rate = stream[1] * self.balance.L_per_s
            return rate, 0.8 * rate, 1.25 * rate
        return self._leak_L_per_h() if name in (DOWNSTREAM, CHECK_VALVE, TAP) else None

    def told(self) -> Told:
        facts = self._of_the_run() | self._of_the_leak() | self._of_the_rest()
        return Told(
            self.name,
            self._now.ran_s,
            self._now.limit_s(),
            self._now.clause(),
            self.signs,
            self.chances,
            self._returned,
            facts,
        )

    def _of_the_run(self) -> dict[str, float | None]:
        seen = self._now.run.glance
        return {
            "running_s": self._now.ran_s,
            "limit_s": self._now.limit_s(),
            "share_pct": 100 * ALARM_SHARE[group(self._now.mode)],
            "pumped_L": (self._now.ran_s or 0.0) * self.balance.L_per_s,
            "fallen_L": seen.fallen_L if seen else None,
            "amps": seen.amps if seen else None,
            "bars": seen.bars if seen else None,
            "usual_A": self._now.habits.current.top,
            "cut_out_bar": self._now.habits.cut_out_bar,
        }

    def _of_the_leak(self) -> dict[str, float | None]:
        leak, stream = self._leak_L_per_h(), self.refills.stream(self.at_s, group(self._now.mode))
        rate = leak[0] if leak else None
        bound = self.estimates.get(("tight_below_L_per_h", self.name))
        flows = stream[1] * self.balance.L_per_s if stream else rate
        return {
            "leak_L_per_h": rate,
            "leak_L_per_day": None if rate is None else 24 * rate,
            "days_lost": None if rate is None else self._days_lost(24 * rate),
            "bound_L_per_h": bound.value if bound else None,
            "rate_L_per_h": flows,
        }

    def _days_lost(self, a_day_L: float) -> float | None:
        """Days of water that so much a day costs, beside what is used."""
        days, left = (self.estimates.get((name, "water")) for name in ("water_days", "left_L"))
        if days is None or not days.value or left is None or not left.value:
            return None
        return days.value - left.value / (left.value / days.value + a_day_L)

    def _of_the_rest(self) -> dict[str, float | None]:
        alone, clearest, short = self.balance.falls_alone(), self.balance.clearest(), self.refills.short()
        cooled, share = self.refills.cooled_L(self.at_s), self.balance.flow_share()
        return {
            "excess_L": alone.litres if alone else None,
            "excess_h": alone.hours if alone else None,
            "pumped_L_then": alone.pumped_L if alone else None,
            "lone_L": clearest.lone_L if clearest else None,
            "lone_h": clearest.hours if clearest else None,
            "short": short[0] if short else None,
            "short_of": short[1] if short else None,
            "promised_s": self._promised_s,
            "quiet_heated_h": self.refills.quiet_heated_h(),
            "heated_starts": sum(r.heated for r in self.refills.lone),
            "cooled": cooled[0] if cooled else None,
            "cooled_L": cooled[1] if cooled else None,
            "flow_pct": None if share is None else 100 * share,
            "still_s": self.still_awake_s,
            "gone_L": self.balance.fallen_L(12.0),
        }
