"""Where the boat is and what her people do: detected, shown, and set by hand with one tap."""

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

import numpy as np

from monitor.clock import MINUTE_S
from monitor.errors import CommandError
from monitor.estimation.watcher import LIVE_V, RUNNING_RPM
from monitor.records import PEOPLE, PLACES, Column, Mode
from monitor.settings import Settings

UNDER_WAY_KN = 1.0
SETTLE_MIN = 10
"""A change of place is believed when it has held for this long."""
FIX_MIN = 10
NM_PER_DEGREE = 60.0


class ModeKeeper:
    """Detects the place from engine, shore supply and position; the people from the ship's clock."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._place_by_hand: str | None = None
        self._people_by_hand: str | None = None
        self._fixes: list[tuple[float, float, float]] = []
        self._seen = "at anchor"
        self._candidate, self._candidate_min = "at anchor", 0
        self._people = "awake"

    @property
    def mode(self) -> Mode:
        by_hand = self._place_by_hand is not None or self._people_by_hand is not None
        return Mode(self._place_by_hand or self._seen, self._people_by_hand or self._people, by_hand)

    def minute(
        self, start_s: float, utc_s: float | None, columns: Mapping[str, Column]
    ) -> Mapping[str, Any] | None:
        """Look at one minute. The facts of the change, where the mode changed."""
        before = self.mode
        seen = self._look(start_s, columns)
        self._candidate_min = self._candidate_min + 1 if seen == self._candidate else 1
        self._candidate = seen
        if self._candidate_min >= SETTLE_MIN:
            self._seen = seen
        self._people = self._asleep_or_awake(utc_s)
        now = self.mode
        if now == before:
            return None
        return {"place": now.place, "people": now.people, "by_hand": now.by_hand}

    def by_hand(self, facts: Mapping[str, Any]) -> None:
        """What the crew says holds until they say "as detected". Raises CommandError if unknown."""
        place, people = facts.get("place"), facts.get("people")
        if place is not None and place not in (*PLACES, "as detected"):
            raise CommandError(
                "place: expected one of {known}, got {got!r}", known=", ".join(PLACES), got=place
            )
        if people is not None and people not in (*PEOPLE, "as detected"):
            raise CommandError(
                "people: expected one of {known}, got {got!r}", known=", ".join(PEOPLE), got=people
            )
        if place is not None:
            self._place_by_hand = None if place == "as detected" else place
        if people is not None:
            self._people_by_hand = None if people == "as detected" else people

    def state(self) -> dict[str, Any]:
        return {"seen": self._seen, "place": self._place_by_hand, "people": self._people_by_hand}

    def restore(self, state: Mapping[str, Any]) -> None:
        """The inverse of `state`; what is no longer a mode is forgotten."""
        if state["seen"] in PLACES:
            self._seen = self._candidate = state["seen"]
        self._place_by_hand = state["place"] if state["place"] in PLACES else None
        self._people_by_hand = state["people"] if state["people"] in PEOPLE else None

    def _look(self, start_s: float, columns: Mapping[str, Column]) -> str:
        """A generator, by its speed or its voltage, tells nothing of the place."""
        engines = [e for e in self._settings.engines if e.drives == "propeller"]
        engine = any(_most(columns, f"{e.name} speed") > RUNNING_RPM for e in engines)
        pedestals = [s for s in self._settings.supplies if s.kind == "shore"]
        if any(_most(columns, f"{s.name} ac voltage") > LIVE_V for s in pedestals):
            return "alongside"
        if self._knots(start_s, columns) > UNDER_WAY_KN:
            return "motoring" if engine else "sailing"
        return "at anchor"

    def _knots(self, start_s: float, columns: Mapping[str, Column]) -> float:
        """Speed over ground from positions some minutes apart; 0 where there are none."""
        for instrument in self._settings.instruments:
            latitude = columns.get(f"{instrument.name} latitude")
            longitude = columns.get(f"{instrument.name} longitude")
            if latitude is None or longitude is None:
                continue
            fix = (start_s, latitude.values[-1], longitude.values[-1])
            if fix[1] == fix[1] and fix[2] == fix[2]:
                self._fixes.append(fix)
        self._fixes = [f for f in self._fixes if 0 <= start_s - f[0] <= FIX_MIN * MINUTE_S]
        if len(self._fixes) < 2 or self._fixes[-1][0] == self._fixes[0][0]:
            return 0.0
        (t0, y0, x0), (t1, y1, x1) = self._fixes[0], self._fixes[-1]
        north = (y1 - y0) * NM_PER_DEGREE
        east = (x1 - x0) * NM_PER_DEGREE * float(np.cos(np.radians(y0)))
        return float(np.hypot(north, east)) / ((t1 - t0) / 3600.0)

    def _asleep_or_awake(self, utc_s: float | None) -> str:
        if utc_s is None:
            return "awake"
        hour = datetime.fromtimestamp(utc_s, UTC).astimezone(self._settings.boat.zone).hour
        start, end = self._settings.night.asleep_from, self._settings.night.asleep_until
        asleep = start <= hour < end if start <= end else hour >= start or hour < end
        return "asleep" if asleep else "awake"


def _most(columns: Mapping[str, Column], name: str) -> float:
    column = columns.get(name)
    return max((v for v in column.values if v == v), default=0.0) if column is not None else 0.0
