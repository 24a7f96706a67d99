"""What is said on waking, at each change of watch and to guests, from what the screens show; and when.

A line is one Reason made of clauses ([id, facts] each, so that it goes through any file); what is not known
is said or left out, never guessed.
"""

from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from monitor.clock import DAY_S, MINUTE_S, Interval
from monitor.estimation.ships_days import ships_day
from monitor.records import Estimate, Mode, NightLedger, OpenAlert, Reason, Snapshot
from monitor.settings import Bank, Settings

UNDER_WAY = ("sailing", "motoring")
NOT_BEFORE_H = 4
"""Nobody who rises for a look at the anchor wants a morning line."""
LATE_S = 10 * MINUTE_S
"""A change of watch that passed longer ago, while nobody looked, is over."""
NIGHT_WITHIN_S = DAY_S
FULL_SHARE = 0.98
SHOWER_MIN = 2.0
OUT = ("shelved", "suppressed", "returned")

Clause = list[Any]
"""[id, facts]."""


class LineKeeper:
    """Says when a line is due. Belongs to the pipeline; it outlives a restart."""

    def __init__(self, settings: Settings) -> None:
        self._zone = settings.boat.zone
        self._changes = sorted(settings.watches.changes)
        self._slept = False
        self._told_day: int | None = None
        self._watch: str | None = None

    def due(self, utc_s: float | None, mode: Mode) -> tuple[str, ...]:
        """ "morning", "handover": what this minute asks for. Each is due once."""
        if utc_s is None:
            return ()
        found = []
        if self._woke(utc_s, mode):
            found.append("morning")
        begun = self._begun(utc_s)
        if begun is not None:
            name, since_s = begun
            if name != self._watch and self._watch is not None and since_s < LATE_S and _under_way(mode):
                found.append("handover")
            self._watch = name
        return tuple(found)

    def _woke(self, utc_s: float, mode: Mode) -> bool:
        if mode.people != "awake":
            self._slept = mode.people == "asleep"
            return False
        here = datetime.fromtimestamp(utc_s, UTC).astimezone(self._zone)
        if not self._slept or here.hour < NOT_BEFORE_H:
            return False
        self._slept = False
        day = ships_day(utc_s, self._zone)
        again, self._told_day = day == self._told_day, day
        return not again and not _under_way(mode)

    def _begun(self, utc_s: float) -> tuple[str, float] | None:
        """The watch under way, by its date and hour of the ship's clock, and how long ago it began."""
        here = datetime.fromtimestamp(utc_s, UTC).astimezone(self._zone)
        for days in (0, 1):
            date = (here - timedelta(days=days)).date()
            for hour in reversed(self._changes):
                start = datetime(date.year, date.month, date.day, hour, tzinfo=self._zone).timestamp()
                if start <= utc_s:
                    return f"{date} {hour}", utc_s - start
        return None

    def state(self) -> dict[str, Any]:
        return {"slept": self._slept, "day": self._told_day, "watch": self._watch}

    def restore(self, state: Mapping[str, Any]) -> None:
        self._slept, self._told_day, self._watch = bool(state["slept"]), state["day"], state["watch"]

    def lines(
        self, utc_s: float | None, settings: Settings, now: Callable[[], Snapshot], mode: Mode
    ) -> Iterator[tuple[str, Reason]]:
        """What is due with its line; `now` is asked only where something is."""
        for kind in self.due(utc_s, mode):
            yield kind, morning(now(), settings) if kind == "morning" else handover(now(), settings)


def morning(s: Snapshot, settings: Settings) -> Reason:
    """The one sentence on waking."""
    night = last_night(s)
    parts = [_charge(s, settings), *_night(s, night), *_sun_or_charge(s), _alerts(s)]
    return Reason("line: morning", {"parts": [part for part in parts if part is not None]})


def handover(s: Snapshot, settings: Settings) -> Reason:
    """The one sentence at a change of watch."""
    parts = [
        ["line: mode", {"place": s.mode.place.capitalize()}],
        _charge(s, settings, first=False),
        *_net(s, settings),
        *_dawn(s, settings),
        *_water(s),
        *_pumps(s, settings),
        _plan(s),
        _alerts(s),
    ]
    return Reason("line: handover", {"parts": [part for part in parts if part is not None]})


def guests(s: Snapshot, settings: Settings, heads: int) -> tuple[Reason, ...]:
    """What guests need: their share of the water, what may be plugged in now, whom to call."""
    return tuple(_guests(s, settings, heads))


def last_night(s: Snapshot) -> NightLedger | None:
    """The newest ledger that began within a day, over or still under way."""
    now_s = s.utc_s
    if now_s is None:
        return None
    near = [n for n in s.nights if n.start_s < now_s and now_s - n.end_s < NIGHT_WITHIN_S]
    return near[-1] if near else None


def house_net_W(s: Snapshot, settings: Settings) -> float | None:
    """What flows into the house banks now, positive in. [W] None while one is silent."""
    total = 0.0
    for bank in _house(settings):
        volts, amps = (s.values.get(f"{bank.name} {quantity}") for quantity in ("voltage", "current"))
        if volts is None or amps is None or volts.silent or amps.silent:
            return None
        if volts.value is None or amps.value is None:
            return None
        total += volts.value * amps.value
    return total if _house(settings) else None


def gravest(s: Snapshot) -> list[OpenAlert]:
    """Those that want somebody, as they stand: the worst first."""
    return [alert for alert in s.alerts if alert.state not in OUT]


# ---- clauses


def _charge(s: Snapshot, settings: Settings, first: bool = True) -> Clause | None:
    bank = next(iter(_house(settings)), None)
    if bank is None:
        return None
    name = f"{'The' if first else 'the'} {bank.name}"
    charge = s.estimates.get(("charge_pct", bank.name))
    if charge is None or charge.low is None or charge.high is None:
        return ["line: charge unknown", {"bank": name}]
    return ["line: charge", {"bank": name, "low_pct": charge.low, "high_pct": charge.high}]


def _night(s: Snapshot, night: NightLedger | None) -> Iterator[Clause]:
    if night is None or night.used_Wh is None:
        yield ["line: use unknown", {}]
        return
    names = {load.id: load.name for load in s.loads}
    told = [(names.get(share.load, "") or share.what, share.Wh) for share in night.by]
    most = max((one for one in told if one[0]), key=lambda one: one[1], default=None)
    facts: dict[str, Any] = {"used_Wh": night.used_Wh}
    if most is not None:
        yield ["line: used by", facts | {"most": most[0], "most_Wh": most[1]}]
    else:
        yield ["line: used", facts]
    if night.water_L is not None:
        yield ["line: litres", {"litres": night.water_L}]
    if night.pump_starts is not None:
        ids = {0: "line: no start", 1: "line: one start"}
        yield [ids.get(night.pump_starts, "line: starts"), {"starts": night.pump_starts}]


def _sun_or_charge(s: Snapshot) -> Iterator[Clause]:
    """That it must be charged; else when it may be full, where that is known."""
    plan = s.power.plan
    if plan is not None and plan.needed:
        yield _plan(s)
        return
    ebb = next((e for e in s.ebbs if e.what == "energy"), None)
    dusk_s = _dusk(s)
    if ebb is None or s.utc_s is None or dusk_s is None or not ebb.ahead.utc_s:
        return
    course = zip(ebb.ahead.utc_s, ebb.ahead.likely, strict=True)
    full = next((t for t, v in course if s.utc_s <= t <= dusk_s and v >= FULL_SHARE * ebb.capacity), None)
    yield ["line: not full", {}] if full is None else ["line: full by", {"full_s": full}]


def _dusk(s: Snapshot) -> float | None:
    """The next nightfall, within a day."""
    now_s = s.utc_s
    if now_s is None:
        return None
    span = Interval(now_s, now_s + DAY_S)
    return next((start for start, _ in s.darkness if span.start_s < start < span.end_s), None)


def _plan(s: Snapshot) -> Clause:
    plan = s.power.plan
    if plan is None or plan.needed is None:
        return ["line: plan unknown", {}]
    if not plan.needed:
        return ["line: no charging", {}]
    option = next((option for option in plan.options if option.enough), None)
    if option is None:
        return ["line: must charge, or save", {}]
    return ["line: must charge", {"source": option.source, "run_s": option.minutes * MINUTE_S}]


def _alerts(s: Snapshot) -> Clause:
    open_ = gravest(s)
    if not open_:
        return ["line: no alert", {}]
    name = [[f"{open_[0].rule}: name", {}]]
    id = "line: alert" if len(open_) == 1 else "line: alerts"
    return [id, {"alert": name, "more": len(open_) - 1}]


def _net(s: Snapshot, settings: Settings) -> Iterator[Clause]:
    net_W = house_net_W(s, settings)
    if net_W is not None:
        yield ["line: going in" if net_W > 0 else "line: going out", {"net_W": abs(net_W)}]


def _dawn(s: Snapshot, settings: Settings) -> Iterator[Clause]:
    for bank in _house(settings)[:1]:
        dawn = s.estimates.get(("dawn_pct", bank.name))
        if dawn is not None and dawn.low is not None:
            yield ["line: dawn", {"low_pct": dawn.low}]


def _water(s: Snapshot) -> Iterator[Clause]:
    days = s.estimates.get(("water_days", "water"))
    if days is not None:
        known = days.low is not None
        yield ["line: water days" if known else "line: water unknown", {"cautious_days": days.low}]


def _pumps(s: Snapshot, settings: Settings) -> Iterator[Clause]:
    for pump in settings.pumps:
        running = s.values.get(f"{pump.name} running")
        if running is not None and not running.silent and running.value is not None:
            yield ["line: pump on" if running.value > 0.5 else "line: pump off", {"pump": pump.name}]


def _guests(s: Snapshot, settings: Settings, heads: int) -> Iterator[Reason]:
    pace = s.estimates.get(("water_L_a_head", "water"))
    litres = _pace_L(pace, settings)
    yield Reason("line: guests water", {"litres": litres, "heads": heads})
    yield from _plugged(s, settings)
    shower_L = SHOWER_MIN * min((pump.flow_L_per_min for pump in settings.pumps), default=0.0)
    if shower_L:
        yield Reason("line: guests shower", {"shower_L": shower_L})
    yield Reason("line: guests heads")
    yield Reason("line: guests call")


def _pace_L(pace: Estimate | None, settings: Settings) -> float:
    """What each has used a day lately, no more than is planned on."""
    usual_L = settings.usual.water_L_a_head_a_day
    return usual_L if pace is None or not pace.value else min(pace.value, usual_L)


def _plugged(s: Snapshot, settings: Settings) -> Iterator[Reason]:
    """The supply that is live, else the inverters, with what is to spare; nothing where that is not known."""
    live = False
    for supply in settings.supplies:
        amps = s.values.get(f"{supply.name} ac current")
        volts = s.values.get(f"{supply.name} ac voltage")
        if volts is None or volts.silent or not volts.value or amps is None or amps.value is None:
            continue
        live = True
        spare_W = max(0.0, supply.limit_A - amps.value) * volts.value
        facts = {"supply": supply.name, "limit_A": supply.limit_A, "spare_W": spare_W}
        yield Reason("line: guests supply", facts)
    for inverter in settings.inverters if not live else ():
        watts = s.values.get(f"{inverter.name} ac power")
        if watts is not None and not watts.silent and watts.value is not None:
            spare_W = max(0.0, inverter.rated_W - watts.value)
            facts = {"inverter": inverter.name, "rated_W": inverter.rated_W, "spare_W": spare_W}
            yield Reason("line: guests inverter", facts)


def _house(settings: Settings) -> list[Bank]:
    return [bank for bank in settings.banks if bank.role == "house"]


def _under_way(mode: Mode) -> bool:
    return mode.place in UNDER_WAY
