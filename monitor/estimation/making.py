"""Watermakers: what they made today, what a litre takes, and when their tanks are full.

Water that is not made yet is never counted in the days that are left.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from monitor.estimation.made import Made, made
from monitor.estimation.ships_days import ShipsDays, ships_day
from monitor.estimation.watcher import Heard
from monitor.records import Estimate, Event, EventKind, Finding, Making, Reason
from monitor.settings import Draw, Settings, Watermaker

METER_SHARE, RATING_SHARE = 0.05, 0.25
"""How far off what a product meter says may be, and what a rating says: warmth, salt and age of the
membrane. Common practice."""
FLUSH_SHARE = 0.2
"""So near to the litres of a declared draw a run of the pump is one."""
LEAST_L = 1.0
"""What must have been made before watt-hours a litre mean anything."""
USUAL_BANK_V = 12.8


class MakerWatch:
    """Watches every watermaker of the settings. See `making`."""

    name = "makers"

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._makers = settings.watermakers
        self._bank_V = next((b.nominal_V for b in settings.banks if b.role == "house"), USUAL_BANK_V)
        self._draws = [draw for pump in settings.pumps for draw in pump.draws]
        sums = [
            f"{m.name} {what}" for m in self._makers for what in ("L", "rated L", "sure L", "Wh", "flush L")
        ]
        self._days = ShipsDays(sums)
        self._now: dict[str, Made] = {}
        self._full_in_s: dict[str, float | None] = {}
        self._dated = False
        self._at_s = 0.0

    def take(self, minute: Heard) -> None:
        self._at_s, self._dated = minute.end_s, minute.utc_s is not None
        if minute.utc_s is not None and self._makers:
            self._days.turn_to(ships_day(minute.utc_s, self._settings.boat.zone))
        for maker in self._makers:
            now = self._now[maker.name] = made(minute, maker, self._bank_V)
            self._full_in_s[maker.name] = self._room_s(maker, now, minute)
            if self._dated:
                self._sum(maker, now, minute)

    def _sum(self, maker: Watermaker, now: Made, minute: Heard) -> None:
        name = maker.name
        if now.litres is not None:
            self._days.add(f"{name} L", now.litres)
            if not now.measured:
                self._days.add(f"{name} rated L", now.litres)
            if now.Wh is not None:
                self._days.add(f"{name} sure L", now.litres)
                self._days.add(f"{name} Wh", now.Wh)
        for event in minute.water.events:
            litres = float(event.facts.get("litres") or 0.0)
            if event.kind == EventKind.PUMP_RUN and self._is_flush(maker, now, litres):
                self._days.add(f"{name} flush L", litres)

    def _is_flush(self, maker: Watermaker, now: Made, litres: float) -> bool:
        """A run of the pump while it says that it flushes, or of the litres of its declared draw."""
        if now.flushes is not None:
            return now.flushes
        return any(abs(litres - draw.litres) <= FLUSH_SHARE * draw.litres for draw in self._own(maker))

    def _own(self, maker: Watermaker) -> list[Draw]:
        """The declared draws that bear its name; those called a flush, where it is the only one."""
        alone = "flush" if len(self._makers) == 1 else maker.name
        named = (maker.name.casefold(), alone.casefold())
        return [d for d in self._draws if any(name in d.name.casefold() for name in named)]

    def _room_s(self, maker: Watermaker, now: Made, minute: Heard) -> float | None:
        """At this rate, nobody drawing; None while it makes nothing or a tank is not known."""
        if not now.litres:
            return None
        tanks = [t for t in self._settings.tanks if t.name in maker.tanks or not maker.tanks]
        room_L = 0.0
        for tank in tanks:
            left = minute.water.estimates.get(("tank_L", tank.name))
            if left is None or left.value is None:
                return None
            room_L += max(0.0, tank.capacity_L - tank.unusable_L - left.value)
        return room_L / now.litres * 60 if tanks else None

    # ---- what is told

    def making(self) -> tuple[Making, ...]:
        """Every watermaker as it stands. Today is the ship's day, None while the clock is not trusted."""
        return tuple(self._making(maker) for maker in self._makers)

    def _making(self, maker: Watermaker) -> Making:
        now = self._now.get(maker.name)
        if now is None:
            return Making(maker.name, None, self._today(maker, "L"), None, self._Wh_per_L(maker), None)
        running = None if now.makes is None else now.makes > 0.0
        rate = None if now.litres is None else now.litres * 60
        full_s = self._full_in_s.get(maker.name)
        return Making(maker.name, running, self._today(maker, "L"), rate, self._Wh_per_L(maker), full_s)

    def _today(self, maker: Watermaker, what: str) -> float | None:
        return self._days.today(f"{maker.name} {what}") if self._dated else None

    def _Wh_per_L(self, maker: Watermaker) -> float | None:
        """Of a week, by the minutes in which both were known."""
        litres, Wh = self._days.week(f"{maker.name} sure L"), self._days.week(f"{maker.name} Wh")
        return Wh / litres if litres and Wh and litres >= LEAST_L else None

    def estimates(self) -> list[Estimate]:
        """`made_L` today and `make_Wh_per_L`, of every watermaker."""
        return [e for maker in self._makers for e in (self._made_L(maker), self._takes(maker))]

    def _made_L(self, maker: Watermaker) -> Estimate:
        litres, rated_L = self._today(maker, "L"), self._today(maker, "rated L") or 0.0
        told = {"maker": maker.name, "made_L": litres, "flush_L": self._today(maker, "flush L")}
        if litres is None:
            why = Reason("maker not heard" if self._dated else "maker: no clock", told)
            return Estimate("made_L", maker.name, self._at_s, None, None, None, why)
        spread_L = METER_SHARE * (litres - rated_L) + RATING_SHARE * rated_L
        id = "maker made, by its rating" if rated_L > 0.0 else "maker made"
        if told["flush_L"]:
            id += ", and flushed"
        low, high = max(0.0, litres - spread_L), litres + spread_L
        return Estimate("made_L", maker.name, self._at_s, litres, low, high, Reason(id, told))

    def _takes(self, maker: Watermaker) -> Estimate:
        value, told = self._Wh_per_L(maker), {"maker": maker.name}
        if value is None:
            why = Reason("maker's energy not known", told)
            return Estimate("make_Wh_per_L", maker.name, self._at_s, None, None, None, why)
        rated_L, litres = self._days.week(f"{maker.name} rated L") or 0.0, self._days.week(f"{maker.name} L")
        share = RATING_SHARE if litres and rated_L > 0.5 * litres else METER_SHARE
        low, high = value * (1 - share), value * (1 + share)
        return Estimate(
            "make_Wh_per_L", maker.name, self._at_s, value, low, high, Reason("maker takes", told)
        )

    def findings(self) -> list[Finding]:
        return []

    def events(self) -> Iterator[Event]:
        return iter(())

    # ---- restarts

    def new_boot(self) -> None:
        self._now, self._full_in_s, self._dated = {}, {}, False

    def state(self) -> dict[str, Any]:
        return self._days.state() if self._makers else {}

    def restore(self, state: Mapping[str, Any]) -> None:
        if state:
            self._days.restore(state)
