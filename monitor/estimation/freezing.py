"""Frost in the plumbing of a boat that is laid up or left alone."""

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

import numpy as np

from monitor.clock import HOUR_S, MINUTE_S
from monitor.estimation.watcher import Heard
from monitor.records import Estimate, Event, EventKind, Finding, Reason, Severity
from monitor.settings import Feed, Settings, Subject

RULE = "plumbing may freeze"
SUBJECT = "water"
ICE_C = 0.0
ALARM_C = 1.0
CLEARS_K = 1.0
LEFT = ("laid up", "away")
UNDRAWN_MIN = 24 * 60
"""Where the pump is heard and nobody has drawn water for so long, nobody is aboard, whatever is set."""
DRAW_SHARE = 1.25
"""Of one refill: a longer run of the pump was a draw."""
WINDOW_S, EVERY_S = 6 * HOUR_S, HOUR_S / 2
LEAST_S = 2 * HOUR_S
"""Of falling, before it is told when it freezes."""
FARTHEST_H = 12.0
"""No straight line through six hours tells more than half a day."""
ELSEWHERE_CODES = (0, 1, 5, 6, 7, 9, 13, 14)
"""Sea, outside, live well, bait well, refrigerator, dew point, freezer, exhaust: not where pipes run."""
ELSEWHERE = ("sea", "outside", "outdoor", "fridge", "refrigerator", "freezer", "dew point", "exhaust")
"""Words that say the same where an instrument has no such code."""


class Place(NamedTuple):
    """Somewhere with a thermometer, and what it told last."""

    name: str
    celsius: float | None


class FreezeWatch:
    """Watches every thermometer near the plumbing: cabins, tanks, heaters."""

    name = "freezing"
    limited = "plumbing may freeze"

    def __init__(self, settings: Settings) -> None:
        self._limit_C = settings.limits.freezing_C
        near = near_plumbing(settings)
        self._may_tell = [subject.name for subject in near]
        self._declared = {subject.name for subject in near if _has_thermometer(subject)}
        self._places: list[Place] = [Place(name, None) for name in self._may_tell if name in self._declared]
        self._heard: dict[str, list[tuple[float, float]]] = {}
        """By place: UTC and degrees, each half hour of the last six."""
        self._left: bool | None = None
        """Whether nobody is aboard; None before the first minute."""
        self._timing_s = {pump.name: pump.timing_s for pump in settings.pumps}
        self._undrawn_min = 0
        self._at_s = 0.0

    def relimit(self, limit: float) -> None:
        self._limit_C = limit

    def take(self, minute: Heard) -> None:
        self._at_s = minute.end_s
        self._draws(minute)
        self._left = minute.mode.people in LEFT or self._undrawn_min >= UNDRAWN_MIN
        self._places = []
        for name in self._may_tell:
            channel = f"{name} temperature"
            if name not in self._declared and channel not in minute.readings:
                continue
            self._declared.add(name)
            celsius = _median(minute, channel)
            self._places.append(Place(name, celsius))
            if celsius is not None and minute.utc_s is not None:
                self._remember(name, minute.utc_s + MINUTE_S, celsius)

    def _draws(self, minute: Heard) -> None:
        """Count the minutes since somebody drew water, those in which every pump was heard."""
        water = minute.water
        for run in water.events:
            if run.kind == EventKind.PUMP_RUN and run.end_s is not None:
                refill_s = water.refill_s.get(run.subject, 0.0)
                lone_s = DRAW_SHARE * refill_s + self._timing_s.get(run.subject, 0.0)
                if run.end_s - run.start_s > lone_s:
                    self._undrawn_min = 0
        if water.running_s and None not in water.running_s.values():
            self._undrawn_min += 1

    def _remember(self, name: str, utc_s: float, celsius: float) -> None:
        kept = [(at, c) for at, c in self._heard.get(name, []) if 0.0 <= utc_s - at <= WINDOW_S]
        if not kept or utc_s - kept[-1][0] >= EVERY_S:
            kept.append((utc_s, celsius))
        self._heard[name] = kept

    # ---- what is told

    def _coldest(self) -> Place | None:
        known = [p for p in self._places if p.celsius is not None]
        return min(known, key=lambda p: p.celsius or 0.0, default=None)

    def _freezes_in_h(self, place: Place) -> float | None:
        """Hours until it is at freezing, by the straight line of six hours; None where that is far, where it
        does not fall, or where not enough was heard."""
        kept = self._heard.get(place.name, [])
        if place.celsius is None or len(kept) < 2 or kept[-1][0] - kept[0][0] < LEAST_S:
            return None
        at, celsius = np.array(kept).T
        slope = float(np.polyfit((at - at[0]) / HOUR_S, celsius, 1)[0])
        hours = max(0.0, (place.celsius - ICE_C) / -slope) if slope < 0.0 else FARTHEST_H
        return None if hours >= FARTHEST_H else hours

    def findings(self) -> list[Finding]:
        """One: it is the whole boat that is drained."""
        coldest = self._coldest()
        silent = [p.name for p in self._places if p.celsius is None]
        facts: dict[str, Any] = {"limit_C": self._limit_C, "silent": ", ".join(silent)}
        if self._left is None:
            return [Finding(RULE, SUBJECT, None, None, Reason("alert: frost not known", facts))]
        if not self._left:
            return [Finding(RULE, SUBJECT, False, True, Reason("alert: frost not watched", facts))]
        if coldest is None or coldest.celsius is None:
            return [Finding(RULE, SUBJECT, None, None, Reason("alert: frost not known", facts))]
        hours = self._freezes_in_h(coldest)
        facts |= {"place": coldest.name, "celsius": coldest.celsius}
        facts["ice_s"] = None if hours is None else hours * HOUR_S
        holds: bool | None = coldest.celsius < self._limit_C
        clears: bool | None = coldest.celsius >= self._limit_C + CLEARS_K
        if silent and not holds:
            holds = clears = None
        severity = Severity.ALARM if coldest.celsius < ALARM_C else None
        return [Finding(RULE, SUBJECT, holds, clears, Reason(_id(coldest.celsius, hours), facts), severity)]

    def estimates(self) -> list[Estimate]:
        """`coldest_C` of the places near the plumbing."""
        if not self._places:
            return []
        coldest = self._coldest()
        if coldest is None:
            return [Estimate("coldest_C", SUBJECT, self._at_s, None, None, None, Reason("frost not known"))]
        hours, celsius = self._freezes_in_h(coldest), coldest.celsius
        told = {"place": coldest.name, "ice_s": None if hours is None else hours * HOUR_S}
        reason = Reason("coldest place, falling" if hours else "coldest place", told)
        return [Estimate("coldest_C", SUBJECT, self._at_s, celsius, celsius, celsius, reason)]

    def events(self) -> Iterator[Event]:
        return iter(())

    # ---- restarts

    def new_boot(self) -> None:
        """What stood before a time off is not known now; the clock says what of it was lately."""
        self._places = [Place(place.name, None) for place in self._places]
        self._left = None

    def state(self) -> dict[str, Any]:
        kept = {n: [[round(at), round(c, 1)] for at, c in heard] for n, heard in self._heard.items() if heard}
        return {"heard": kept, "undrawn_min": self._undrawn_min}

    def restore(self, state: Mapping[str, Any]) -> None:
        self._undrawn_min = int(state.get("undrawn_min", 0))
        for name, heard in state["heard"].items():
            if name in self._may_tell:
                self._heard[name] = [(float(at), float(celsius)) for at, celsius in heard]


def _id(celsius: float, hours: float | None) -> str:
    if celsius <= ICE_C:
        return "alert: plumbing freezes"
    return "alert: frost coming" if hours else "alert: plumbing cold"


def _median(minute: Heard, channel: str) -> float | None:
    """One wrong reading in a minute is no frost."""
    values = minute.values(channel)
    return float(np.median(values)) if values.size else minute.newest(channel)


def near_plumbing(settings: Settings) -> list[Subject]:
    """Whatever may tell how cold it is where pipes run."""
    near = [i for i in settings.instruments if not _elsewhere(i)]
    return [*near, *settings.tanks, *settings.heaters]


def _elsewhere(instrument: Subject) -> bool:
    words = instrument.name.casefold().replace("-", " ").split()
    named = any(set(phrase.split()) <= set(words) for phrase in ELSEWHERE)
    return named or any(feed.code in ELSEWHERE_CODES for feed in instrument.feeds if _tells(feed))


def _has_thermometer(subject: Subject) -> bool:
    return any(_tells(feed) for feed in subject.feeds)


def _tells(feed: Feed) -> bool:
    """Whether this feed is surely one of temperatures."""
    return feed.quantity == "temperature" or (feed.quantity is None and feed.message == "temperature")
