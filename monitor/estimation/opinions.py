"""Instruments that disagree, stick, count backwards or are off zero, and charge figures that jump.

A second opinion is looked at beside the first and never added to it. What is told of one sensor has
its channel's name for a subject, what is told of a pair or of the bank the bank's.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from monitor.estimation.bands import BAND_90
from monitor.estimation.disagreement import Disagreement
from monitor.estimation.sensors import OPEN_MIN, VOICES_MIN, BankSensors, offset_of
from monitor.estimation.watcher import Heard
from monitor.estimation.wiring import CHARGE, CURRENT, VOLTAGE, channel_name, key_that_turns, label
from monitor.records import Estimate, Event, Finding, Reason
from monitor.settings import Settings

ZERO_A, NEAR_ZERO_A = 0.10, 0.08
ZERO_SDS, NEAR_SDS = 3.0, 2.0


class OpinionWatch:
    """Watches the sensors of every bank."""

    name = "opinions"

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._banks = [BankSensors(settings, bank) for bank in settings.banks]
        self._differ: dict[tuple[str, int], Disagreement] = {}
        self._estimates: Mapping[tuple[str, str], Estimate] = {}
        self._at_s: float | None = None
        self._found: list[Finding] | None = None
        """What was found in this minute: it is asked for more often than it changes."""

    def take(self, minute: Heard) -> None:
        if self._at_s is not None and minute.start_s != self._at_s:
            self._pause()
        self._at_s, self._estimates, self._found = minute.end_s, minute.estimates, None
        for sensors in self._banks:
            sensors.take(minute)
            for n in sensors.fresh:
                self._differs(sensors, n).hour(sensors.pairs[n])

    def _differs(self, sensors: BankSensors, opinion: int) -> Disagreement:
        return self._differ.setdefault((sensors.bank.name, opinion), Disagreement())

    def _pause(self) -> None:
        for sensors in self._banks:
            sensors.pause()

    def events(self) -> Iterator[Event]:
        return iter(())

    def new_boot(self) -> None:
        self._at_s = self._found = None
        self._pause()

    def state(self) -> dict[str, Any]:
        kept = {}
        for sensors in self._banks:
            beyond = {str(n): self._differs(sensors, n).beyond_h for n in sensors.pairs}
            kept[sensors.bank.name] = sensors.state() | {"beyond_h": beyond}
        return kept

    def restore(self, state: Mapping[str, Any]) -> None:
        self._found = None
        for sensors in self._banks:
            kept = state.get(sensors.bank.name)
            if kept is None:
                continue
            sensors.restore(kept)
            for n, pairs in sensors.pairs.items():
                if pairs.hours:
                    differs = self._differs(sensors, n)
                    differs.hour(pairs)
                    differs.beyond_h = int(kept["beyond_h"].get(str(n), 0))

    # ---- figures

    def estimates(self) -> list[Estimate]:
        """How each further current differs from the first: y = offset + gain x."""
        found = []
        for sensors in self._banks:
            for n, pairs in sensors.pairs.items():
                line, subject = self._differs(sensors, n).line, _pair(sensors, n)
                found += [
                    self._estimate("opinion_offset_A", subject, line and (line.offset, line.offset_sd)),
                    self._estimate("opinion_gain", subject, line and (line.gain, line.gain_sd)),
                ]
                if pairs.mute is not None:
                    told = {
                        "instrument": label(sensors.bank, CURRENT, n * pairs.mute, sensors.opinions[CURRENT])
                    }
                    found[-2:] = [
                        _because(e, Reason("opinions compared, one mute", told)) for e in found[-2:]
                    ]
        return found

    def _estimate(self, name: str, subject: str, figure: tuple[float, float] | None) -> Estimate:
        at_s = self._at_s or 0.0
        if figure is None or figure[0] != figure[0]:
            return Estimate(name, subject, at_s, None, None, None, Reason("opinions not compared"))
        value, spread = figure[0], BAND_90 * figure[1]
        return Estimate(
            name, subject, at_s, value, value - spread, value + spread, Reason("opinions compared")
        )

    # ---- findings

    def findings(self) -> list[Finding]:
        if self._found is None:
            self._found = [finding for sensors in self._banks for finding in self._findings(sensors)]
        return self._found

    def _findings(self, sensors: BankSensors) -> Iterator[Finding]:
        for n in range(sensors.opinions[CURRENT]):
            yield self._reversed(sensors, n)
            yield self._stuck(sensors, CURRENT, n)
        for n in range(sensors.opinions[VOLTAGE]):
            yield self._stuck(sensors, VOLTAGE, n)
        yield from self._disagree(sensors)
        yield _two_voices(sensors)
        if sensors.bank.role == "house":
            yield self._off_zero(sensors)
            yield self._changed(sensors)
            for n in range(sensors.opinions[CHARGE]):
                yield _jumped(sensors, n)

    def _reversed(self, sensors: BankSensors, opinion: int) -> Finding:
        name, direction = channel_name(sensors.bank.name, CURRENT, opinion), sensors.directions[opinion]
        told = {
            "channel": name,
            "instrument": label(sensors.bank, CURRENT, opinion, sensors.opinions[CURRENT]),
            "steps": direction.volts.n,
            "key": key_that_turns(self._settings, sensors.bank, opinion),
        }
        turned = direction.reversed
        clears = None if turned is None else not turned
        return Finding("current reversed", name, turned, clears, Reason("alert: current reversed", told))

    def _stuck(self, sensors: BankSensors, quantity: str, opinion: int) -> Finding:
        name = channel_name(sensors.bank.name, quantity, opinion)
        still, at_s = sensors.still[name], self._at_s or 0.0
        stuck = still.stuck(at_s)
        told = {
            "channel": name, "value": still.value, "unit": "A" if quantity == CURRENT else "V",
            "for_s": at_s - still.since_s, "witnesses": still.witnesses,
        }  # fmt: skip
        rests = quantity == CURRENT and still.value == 0.0
        reason = Reason("alert: current stays at nothing" if rests else "alert: sensor stuck", told)
        return Finding("sensor stuck", name, stuck, None if stuck is None else not stuck, reason)

    def _disagree(self, sensors: BankSensors) -> Iterator[Finding]:
        bank, count = sensors.bank, sensors.opinions[CURRENT]
        offset_A, sd_A = offset_of(self._estimates.get(("charge_pct", bank.name)))
        for n, pairs in sensors.pairs.items():
            verdict = self._differs(sensors, n).verdict(pairs, offset_A, sd_A)
            told = {"first": label(bank, CURRENT, 0, count), "other": label(bank, CURRENT, n, count)}
            names = [channel_name(bank.name, CURRENT, k) for k in (0, n)]
            under = tuple((rule, name) for rule in ("current reversed", "sensor stuck") for name in names)
            reason = Reason(verdict.id, {"bank": bank.name, **told, **verdict.facts})
            yield Finding(
                "instruments disagree", _pair(sensors, n), verdict.holds, verdict.clears, reason, under=under
            )
        if not sensors.pairs:
            reason = Reason("alert: instruments not compared", {"bank": bank.name})
            yield Finding("instruments disagree", bank.name, None, None, reason)

    def _off_zero(self, sensors: BankSensors) -> Finding:
        name = channel_name(sensors.bank.name, CURRENT, 0)
        offset_A, sd_A = offset_of(self._estimates.get(("charge_pct", sensors.bank.name)))
        told: dict[str, Any] = {"bank": sensors.bank.name, "channel": name, "offset_mA": None}
        if sensors.open_min >= OPEN_MIN:
            told["offset_mA"] = 1000 * sensors.open_A
            holds, clears = abs(sensors.open_A) > ZERO_A, abs(sensors.open_A) < NEAR_ZERO_A
            return Finding(
                "sensor off zero", name, holds, clears, Reason("alert: sensor off zero, bank cut off", told)
            )
        reason = Reason("alert: sensor off zero", told)
        if offset_A is None or sd_A is None:
            return Finding("sensor off zero", name, None, None, reason)
        told["offset_mA"] = 1000 * offset_A
        holds = abs(offset_A) > max(ZERO_A, ZERO_SDS * sd_A)
        clears = abs(offset_A) < max(NEAR_ZERO_A, NEAR_SDS * sd_A)
        under = (("current reversed", name), ("bank changed", sensors.bank.name))
        return Finding("sensor off zero", name, holds, clears and not holds, reason, under=under)

    def _changed(self, sensors: BankSensors) -> Finding:
        """As the tracker says of its count; unknown while it has none."""
        name = sensors.bank.name
        charge = self._estimates.get(("charge_pct", name))
        holds = None if charge is None else charge.reason.facts.get("changed")
        under = (("current reversed", channel_name(name, CURRENT, 0)),)
        reason = Reason("alert: bank changed", {"bank": name})
        return Finding("bank changed", name, holds, None if holds is None else not holds, reason, under=under)


def _jumped(sensors: BankSensors, opinion: int) -> Finding:
    name, figure = channel_name(sensors.bank.name, CHARGE, opinion), sensors.figures[opinion]
    told: dict[str, Any] = {
        "channel": name, "instrument": label(sensors.bank, CHARGE, opinion, sensors.opinions[CHARGE]),
        "from_pct": None, "to_pct": figure.value, "age_s": None, "counted_pct": figure.counted_pct,
    }  # fmt: skip
    if figure.jump is not None:
        told |= {"from_pct": figure.jump.from_pct, "to_pct": figure.jump.to_pct, "age_s": figure.jump.age_s}
        return Finding("charge jumped", name, True, False, Reason("alert: charge jumped", told))
    reason = Reason("alert: charge frozen", told)
    holds = None if figure.value is None else figure.frozen
    return Finding("charge jumped", name, holds, None if holds is None else not holds, reason)


def _two_voices(sensors: BankSensors) -> Finding:
    """Of one channel's voltage; senders of different addresses are kept apart before they come here."""
    low, high = sensors.voices or (None, None)
    told = {"bank": sensors.bank.name, "low_V": low, "high_V": high}
    known = sensors.voices is not None
    holds, clears = (sensors.voices_min >= VOICES_MIN, sensors.voices_min == 0) if known else (None, None)
    name = channel_name(sensors.bank.name, VOLTAGE, 0)
    return Finding("instruments disagree", name, holds, clears, Reason("alert: two speak as one", told))


def _pair(sensors: BankSensors, opinion: int) -> str:
    return sensors.bank.name + (f" (opinion {opinion + 1})" if opinion > 1 else "")


def _because(estimate: Estimate, reason: Reason) -> Estimate:
    e = estimate
    return Estimate(e.name, e.subject, e.at_s, e.value, e.low, e.high, reason)
