"""The nights' ledgers: the finished ones, and the one under way as far as it has come."""

from collections import Counter, deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, replace
from typing import Any, Protocol

import numpy as np

from monitor.clock import DAY_S, MINUTE_S, Boot, Interval
from monitor.estimation.charge import ChargeTracker
from monitor.estimation.ledger import night
from monitor.estimation.load_health import health
from monitor.estimation.loads.naming import Named
from monitor.estimation.loads.trace import Floats
from monitor.estimation.ships_nights import by_the_clock
from monitor.estimation.sun import darkness
from monitor.estimation.unusual import compared
from monitor.pipeline.house_current import HouseCurrent
from monitor.pipeline.naming import Naming
from monitor.pipeline.power import MinuteSum, PowerMinutes
from monitor.records import Event, EventKind, NightLedger, Reason, Share, Usual
from monitor.settings import Bank, Settings

KEPT = 60


RUNNING_EVERY_S = 600.0
"""The night under way is shared out among its loads so often."""


class NightWater(Protocol):
    """What a night's ledger asks of the water desk, in elapsed time."""

    def litres_between(self, start_s: float, end_s: float) -> float | None: ...
    def starts_between(self, start_s: float, end_s: float) -> int | None: ...
    def runs_between(self, start_s: float, end_s: float) -> dict[str, list[tuple[float, float]]]: ...


class Nights:
    """Watches for dawn, and keeps the ledgers."""

    def __init__(
        self, settings: Settings, power: PowerMinutes, naming: Naming, current: HouseCurrent
    ) -> None:
        self._settings, self._naming, self._current = settings, naming, current
        self._metered = any(c.into in {b.name for b in settings.banks} for c in settings.chargers)
        self._power = power
        self._done: deque[NightLedger] = deque(maxlen=KEPT)
        self._night: Interval | None = None
        self._look_again_s = 0.0
        self._charge: deque[tuple[float, float]] = deque(maxlen=3 * 24 * 60)
        self._places: deque[tuple[float, str]] = deque(maxlen=2 * 24 * 60)
        self._airs: deque[tuple[float, float]] = deque(maxlen=2 * 24 * 60)
        self._running: tuple[float, NightLedger] | None = None
        self._named: tuple[float, Named | None] | None = None
        """The night under way as it was shared out last."""

    def see(
        self,
        utc_s: float,
        banks: Sequence[Bank],
        trackers: dict[str, ChargeTracker],
        at_s: float,
        place: str,
        air_C: float | None,
    ) -> None:
        """Note the charge of the (first) house bank, for dusk and dawn, where the boat lies, and its air."""
        self._places.append((utc_s, place))
        if air_C is not None:
            self._airs.append((utc_s, air_C))
        found = trackers[banks[0].name].estimates(at_s)[0]
        if found.value is not None:
            self._charge.append((utc_s, found.value))

    def over(self, utc_s: float, place: tuple[float, float], boot: Boot, water: NightWater) -> Event | None:
        """The ledger of the night that has just ended, once."""
        if self._night is None or (utc_s >= self._look_again_s and utc_s < self._night.end_s):
            self._look(utc_s, place)
        if self._night is None or utc_s < self._night.end_s:
            return None
        done, self._night = self._night, None
        ledger = self._ledger(done, boot, water)
        self._running = self._named = None
        if ledger is None or ledger.missing_s >= done.seconds:
            return None
        self._done.append(ledger)
        at_s = boot.elapsed_s(done.end_s)
        start_s = boot.elapsed_s(done.start_s)
        assert at_s is not None
        assert start_s is not None
        return Event(EventKind.NIGHT, "boat", boot.number, start_s, at_s, _as_facts(ledger))

    def all(self, utc_s: float | None, boot: Boot, water: NightWater) -> tuple[NightLedger, ...]:
        """Every kept ledger, the latest last; the night under way has its end in the future."""
        if utc_s is None or self._night is None or utc_s <= self._night.start_s + MINUTE_S:
            return tuple(self._done)
        if self._running is None or utc_s >= self._running[0] + MINUTE_S:
            ledger = self._ledger(self._night, boot, water, until_s=utc_s)
            self._running = None if ledger is None else (utc_s, ledger)
        return (*self._done, self._running[1]) if self._running is not None else tuple(self._done)

    def prefill(self, events: Iterable[Event]) -> None:
        for event in events:
            self._done.append(from_facts(event.facts))

    def _look(self, utc_s: float, place: tuple[float, float]) -> None:
        """The night under way or the next one, with its own true dusk. Polar nights are cut at a day."""
        self._look_again_s = utc_s + DAY_S / 4
        around, own = Interval(utc_s - DAY_S, utc_s + 2 * DAY_S), self._settings.night
        nights = (
            darkness(*place, around)
            if own.by == "sun"
            else by_the_clock(own.begins, own.ends, self._settings.boat.zone, around)
        )
        for start_s, end_s in nights:
            if end_s > utc_s:
                start_s = max(start_s, self._done[-1].end_s if self._done else start_s)
                self._night = Interval(start_s, min(end_s, start_s + DAY_S))
                return

    def _ledger(
        self, span: Interval, boot: Boot, water: NightWater, until_s: float | None = None
    ) -> NightLedger | None:
        end_s = span.end_s if until_s is None else min(until_s, span.end_s)
        first_s, last_s = boot.elapsed_s(span.start_s), boot.elapsed_s(end_s)
        if first_s is None or last_s is None or end_s <= span.start_s:
            return None
        minutes = list(self._power.between(first_s, last_s))
        utc_s = np.array([boot.utc_s(m.at_s) or 0.0 for m in minutes])
        # A minute of which only a part was heard counts with its mean over the whole minute.
        share = np.array([MINUTE_S / m.covered_s for m in minutes])
        net_W = np.array([m.net_Wh * 60 for m in minutes]) * share
        made_W = np.array([m.made_Wh * 60 for m in minutes]) * share
        unmetered = np.array([m.estimated for m in minutes], bool)
        metered_W = np.where(unmetered, np.nan, made_W) if self._metered else None
        so_far = Interval(span.start_s, end_s)
        ledger = night(
            so_far,
            utc_s,
            net_W,
            metered_W,
            named=self._shared(so_far, boot, water, over=until_s is None),
            kinds=self._naming.kinds,
            loads_W=_by_minute(self._power.load_Wh, minutes),
            made_by_W=_by_minute(self._power.made_Wh, minutes),
            water_L=water.litres_between(first_s, last_s),
            pump_starts=water.starts_between(first_s, last_s),
            lowest_V=self._power.lowest_between(first_s, last_s),
            dusk_pct=self._charge_at(span.start_s),
            dawn_pct=self._charge_at(span.end_s) if until_s is None else None,
            place=self._place(so_far),
        )
        whole = compared(replace(ledger, end_s=span.end_s, air_C=self._air(so_far)), self._done)
        return replace(whole, health=health(whole, self._done, self._naming.kinds))

    def _shared(self, span: Interval, boot: Boot, water: NightWater, *, over: bool) -> Named | None:
        """The night shared out among its loads: once it is over, and now and then before."""
        if not over and self._named is not None and span.end_s < self._named[0] + RUNNING_EVERY_S:
            return self._named[1]
        first_s, last_s = boot.elapsed_s(span.start_s), boot.elapsed_s(span.end_s)
        if first_s is None or last_s is None:
            return None
        off_s = span.start_s - first_s
        runs = {
            pump: [(a + off_s, b + off_s) for a, b in ran]
            for pump, ran in water.runs_between(first_s, last_s).items()
        }
        named = self._naming.name(self._current, span, runs, learn=over)
        self._named = (span.end_s, named)
        return named

    def _air(self, span: Interval) -> float | None:
        seen = [air_C for utc_s, air_C in self._airs if span.start_s <= utc_s < span.end_s]
        return round(sum(seen) / len(seen), 1) if seen else None

    def _place(self, span: Interval) -> str:
        """Where the boat lay for the most of it."""
        seen = Counter(place for utc_s, place in self._places if span.start_s <= utc_s < span.end_s)
        return seen.most_common(1)[0][0] if seen else ""

    def _charge_at(self, utc_s: float) -> float | None:
        near = [(abs(t - utc_s), pct) for t, pct in self._charge if abs(t - utc_s) <= 10 * MINUTE_S]
        return min(near)[1] if near else None


def _as_facts(ledger: NightLedger) -> dict[str, Any]:
    return asdict(ledger)


def _by_minute(
    amounts_Wh: Mapping[str, Mapping[int, float]], minutes: Sequence[MinuteSum]
) -> dict[str, Floats]:
    """Watts by minute, NaN where nothing was heard."""
    return {
        name: np.array([taken.get(int(m.at_s // MINUTE_S), np.nan) * 60 for m in minutes])
        for name, taken in amounts_Wh.items()
    }


def from_facts(facts: Mapping[str, Any]) -> NightLedger:
    """The ledger that an event of kind NIGHT keeps."""
    known = dict(facts)
    for shares in ("by", "made_by"):
        known[shares] = tuple(_share(share) for share in known.get(shares, ()))
    known["gaps"] = tuple((a, b) for a, b in known.get("gaps", ()))
    known["usual"] = Usual(**known["usual"]) if known.get("usual") else None
    for reasons in ("changed", "health"):
        known[reasons] = tuple(Reason(**reason) for reason in known.get(reasons, ()))
    return NightLedger(**known)


def _share(share: Mapping[str, Any]) -> Share:
    runs = share["runs"]
    return Share(**{**share, "runs": None if runs is None else tuple((a, b) for a, b in runs)})
