"""False alerts in a year of ordinary life, from the rules that rest on facts: 20 boats of 365 days each.

A boat lies at anchor, sails and lies alongside for days at a time. The generator (`Year`) keeps what is
true: charge by energy booked every 173 s (use by the hour, fridge, kettle and inverter, sun under a sky
that remembers, engine or generator when it is low, shore), voltage by an open circuit table and a
resistance, water by the runs of an independent household (`tests.estimation.water.household`), washing down
and showers, cans and hoses. What the rules are told is not that, but instruments and estimates with errors:
voltage of 20 mV; the charge off by what a full leaves (0.5 %), by 0.15 % a day since (one sigma; `closure`
has 1 % after gaps of 2 to 10 days) and by a capacity known to 5 % (`cells`: 4.7 % at any time in 95 of
100); litres off by 1 % of the tank by its table, by waves under way; days of energy off by 15 % for a day
or two (`households`), those of water by 12 % and 5 % too few for a week (what `water_days` says over its
oracle's cautious day, at eight households); the leak judge is the real one. Instruments fall silent for
seconds to minutes, buses restart, the computer reboots and does not know the time.

The real findings and the real book are stepped every 173 s, and every 15 s while something is pending,
silent or running long. How truth is judged: the same rule is asked with the generator's truth in place of
every reading and estimate. A sounding alert is true when the truth is not clear by the rule's own measure;
*close* when it is clear now and would not be at the end of the rule's time to respond, at the true rate and
with nobody acting; otherwise false. A silence that heals by itself within ten minutes, a pump that runs
because somebody wants the water, and a leak that is not there are never true.
"""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from monitor.alerts.facts import Facts
from monitor.alerts.findings import findings
from monitor.alerts.rulebook import Rulebook
from monitor.alerts.rules import RULES
from monitor.records import AlertChange, Estimate, Finding, Mode, Reading, Reason
from tests.proof.alert_boat import ALERTS, BED_H, DAY_S, HOUR_S, SETTINGS, TANK_L, UP_H, Bridge, Count, rates
from tests.proof.alert_power import CAPACITY_WH, OCV, OHM, STEP_S, STEPS
from tests.proof.alert_silence import FINE_S, WELL, Unheard
from tests.proof.harness import Case, Row, outside

YEAR, BOATS, SHORT = 365, 20, 4
TEST = Reason("truth")
RULEBOOK = Rulebook(SETTINGS)


class Year(Unheard):
    """The same boat, and what her watch is told."""

    def __init__(self, seed: int) -> None:
        super().__init__(seed)
        self.bridge, self.count = Bridge(seed), Count()
        self._capacity_off = float(self.rng.normal(0, 0.05))
        self._table = self.rng.normal(0, 0.01, 6)
        self._drift_pct, self._drifts_from_s = 0.0, -1.0
        self._off = {"energy": 0.0, "water": 0.0, "slosh": 0.0}
        self._trusted_s = self._drawn_s = -1.0
        self._days_told: tuple[Estimate, Estimate] | None = None
        self.days_true = (9.0, 9.0)
        self._volts = 13.2
        self.sag_V = 0.0
        self.untimed_s = self.broken_s = float("inf")
        """From when on the clock is not trusted, and the store is in trouble."""

    def day(self) -> None:
        """Live a day."""
        start_s = self.days * DAY_S
        self._plan_place()
        self._plan_water(start_s)
        self._plan_silence(start_s)
        use_W, sun_W = self._plan_power(start_s)
        sags = self._sags(start_s)
        moments = self._moments(start_s, sags)
        t = start_s
        current_A = np.zeros(STEPS + 1)
        done = -1
        while t < start_s + DAY_S:
            step = min(STEPS - 1, int((t - start_s) / STEP_S + 1e-6))
            while done < step:
                done += 1
                current_A[done] = self._power(start_s + done * STEP_S, use_W[done], sun_W[done])
            pending = self._look(t, float(current_A[step]), sags)
            n = bisect_right(moments, t)
            t = t + FINE_S if pending else start_s + (step + 1) * STEP_S
            t = min(t, moments[n]) if n < len(moments) else t
        self.days += 1

    def _look(self, at_s: float, current_A: float, sags: Sequence[tuple[float, float, float]]) -> bool:
        """Judge as things stand. Whether something is pending that a closer look would tell."""
        if at_s >= self._boots_s:
            self.boot, self.boot_s = self.boot + 1, at_s - 20.0
            self._boots_s = float("inf")
            self._trusted_s = at_s + min(HOUR_S, self.rng.lognormal(np.log(100), 1.0))
        told = self._facts(at_s, current_A, sags)
        found = findings(told)
        called = self.bridge.step(at_s, self.boot, told.at_s, found)
        if called:
            true = self._true(at_s, told)
            self.count.take(called, lambda change: self._judge(change, true))
        if any(c.rule in ("low charge", "few energy days") for c in called):
            self.asked = True
        return any(f.holds and RULES[f.rule].on_delay_s in (60, 120, 300) for f in found) and bool(
            {(f.rule, f.subject) for f in found if f.holds}
            - {(a.rule, a.subject) for a in self.bridge.book.open()}
        )

    def _facts(self, at_s: float, current_A: float, sags: Sequence[tuple[float, float, float]]) -> Facts:
        """As told."""
        here_s = at_s - self.boot_s
        sag_A = sum(amps for begin, end, amps in sags if begin <= at_s < end)
        volts = float(np.interp(self.share, *OCV)) + OHM * (current_A - sag_A)
        if at_s >= self.fault_s:
            volts -= self.sag_V
        litres = self.litres = self._water_at(at_s)
        self._volts = volts
        sources, values = self._heard(at_s, here_s, volts)
        run = bisect_right(self.runs, (at_s, float("inf"))) - 1
        running_s = at_s - self.runs[run][0] if run >= 0 and self.runs[run][1] > at_s else 0.0
        if at_s >= self.hose_s:
            running_s = at_s - self.hose_s
        estimates = self._estimates(at_s, litres)
        n = bisect_right(self.water.told, at_s, key=lambda told: told[0]) - 1
        verdicts: Mapping[str, tuple[str, Reason]] = {}
        if n >= 0:
            _, verdict, leak = self.water.told[n]
            verdicts = {"pump": verdict}
            if leak is not None:
                estimates["leak_L_per_h", "pump"] = leak
        hour = at_s % DAY_S / HOUR_S
        mode = Mode(self.place, "awake" if UP_H <= hour < BED_H else "asleep")
        heard = values.get("pump running")
        known = heard is not None and not heard.silent
        return Facts(
            SETTINGS, here_s, 0.0, self.heads, values, estimates, sources,
            at_s >= self._trusted_s and at_s < self.untimed_s, {"house": self.full_s},
            {"pump": running_s if known else None}, {}, verdicts,
            (Reason("store full"),) if at_s >= self.broken_s else (), mode=mode, rulebook=RULEBOOK,
        )  # fmt: skip

    def _estimates(self, at_s: float, litres: float) -> dict[tuple[str, str], Estimate]:
        since_d = (at_s - self.full_s) / DAY_S
        sd = (0.5**2 + (0.15 * since_d) ** 2 + (5.0 * (1 - self.share)) ** 2) ** 0.5
        if self.full_s != self._drifts_from_s:
            self._drifts_from_s, self._drift_pct = self.full_s, float(self.rng.normal(0, 0.15))
        off = self.off_at_full + self._drift_pct * since_d + 100 * self._capacity_off * (1 - self.share)
        told_pct = min(100.0, max(0.0, 100 * self.share + off))
        reading = litres / TANK_L * (len(self._table) - 1)
        off_L = TANK_L * float(np.interp(reading, np.arange(len(self._table)), self._table))
        told_L = max(0.0, litres + off_L + 0.01 * TANK_L * self._off["slosh"])
        if at_s - self._drawn_s >= 1800 or self._days_told is None:
            self._draw(at_s, told_pct / 100, told_L, litres)
        assert self._days_told is not None
        return {
            ("charge_pct", "house"): _estimate("charge_pct", "house", told_pct, told_pct - 1.645 * sd),
            ("left_L", "water"): _estimate("left_L", "water", told_L, told_L - 14.0),
            ("energy_days", "house"): self._days_told[0],
            ("water_days", "water"): self._days_told[1],
        }

    def _draw(self, at_s: float, share: float, told_L: float, litres: float) -> None:
        """Forecasts are drawn every half hour: the oracle's cautious days, and what is told."""
        self._drawn_s = at_s
        for name, memory_h in (("energy", 36.0), ("water", 150.0), ("slosh", 6.0)):
            keeps = float(np.exp(-0.5 / memory_h))
            sd = 2.0 if name == "slosh" and self.place == "sailing" else 1.0
            self._off[name] = keeps * self._off[name] + sd * float(self.rng.normal(0, (1 - keeps**2) ** 0.5))
        energy_d, water_d = self._energy_days(at_s, self.share), self._water_days(at_s, litres)
        self.days_true = energy_d, water_d
        told_e = self._energy_days(at_s, share) * float(np.exp(0.15 * self._off["energy"]))
        told_w = self._water_days(at_s, told_L) * float(np.exp(0.12 * self._off["water"] - 0.05))
        self._days_told = (
            _estimate("energy_days", "house", 1.4 * told_e, told_e),
            _estimate("water_days", "water", 1.25 * told_w, told_w),
        )

    # ---- the truth

    def _true(self, at_s: float, told: Facts) -> Facts:
        """As it is."""
        amounts = {
            ("charge_pct", "house"): 100 * self.share,
            ("left_L", "water"): self.litres,
            ("energy_days", "house"): self.days_true[0],
            ("water_days", "water"): self.days_true[1],
        }
        dead = {name: told.values[name] for name in self.dead if name in told.values}
        hose_s = max(0.0, at_s - self.hose_s)
        return replace(
            told,
            values=WELL | {"house voltage": Reading(told.at_s, self._volts, False)} | dead,
            estimates={key: _estimate(*key, value, value) for key, value in amounts.items()},
            sources=tuple(
                s if s.name in self.dead else replace(s, heard_at_s=told.at_s) for s in told.sources
            ),
            running_s={"pump": hose_s},
            verdicts={"pump": ("leak suspected" if self.water.house.leak > 0 else "tight", TEST)},
        )

    def _judge(self, change: AlertChange, true: Facts) -> str:
        if not _clear(change, findings(true)):
            return "true"
        later = self._later(true, RULES[change.rule].respond_s)
        return "false" if _clear(change, findings(later)) else "close"

    def _later(self, true: Facts, after_s: float) -> Facts:
        """The truth after so long at the true rate, nobody acting."""
        e = dict(true.estimates)
        drain = (0.55 * self.use_W + 48.0) * after_s / 3600 / CAPACITY_WH * 100
        for key, falls in (
            (("charge_pct", "house"), drain if self.place != "alongside" else 0.0),
            (("left_L", "water"), self.a_day_L * after_s / DAY_S),
            (("energy_days", "house"), after_s / DAY_S if self.place != "alongside" else 0.0),
            (("water_days", "water"), after_s / DAY_S),
        ):
            value = e[key].value
            assert value is not None
            e[key] = _estimate(key[0], key[1], value - falls, value - falls)
        return replace(true, estimates=e)


def _clear(change: AlertChange, found: Sequence[Finding]) -> bool:
    """Whether the rule finds all well, or finds nothing of it to look at."""
    here = [f for f in found if (f.rule, f.subject) == (change.rule, change.subject)]
    return not here or bool(here[0].clears)


def _estimate(name: str, subject: str, value: float, low: float) -> Estimate:
    return Estimate(name, subject, 0.0, value, max(0.0, low), None, TEST)


def run(seed: int) -> Row:
    """A year; the last part is a few days, for the ordinary tests to repeat."""
    year = Year(seed)
    for _ in range(YEAR if seed < BOATS else SHORT):
        year.day()
    return year.count.row(year.days)


def misses(found: Mapping[str, float]) -> list[str]:
    return outside(found, {"nights": (7300, 1e6), "false in 100 nights": (0.0, 1.0)})


CASES = [
    Case(
        "alert-year",
        "In 20 years of ordinary life the rules that rest on facts sound falsely at most once in 100 nights",
        (
            *ALERTS,
            *(
                f"monitor/estimation/{name}.py"
                for name in ("leak", "evidence", "suspicion", "innocents", "leak_rate", "heater", "resting")
            ),
            "tests/estimation/water/household.py",
            "tests/estimation/water/watching.py",
            "tests/proof/alert_boat.py",
            "tests/proof/alert_power.py",
            "tests/proof/alert_silence.py",
            "tests/proof/alert_water.py",
            "tests/proof/alert_year.py",
        ),
        range(BOATS + 1),
        run,
        rates,
        misses,
        (BOATS,),
    )
]
