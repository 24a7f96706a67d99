"""A watch made of cardboard: snapshots of every kind, to test the pages and to look at them.

    python -m tests.web.canned --port 8080

serves them all: each state on its own port, counted up from the given one.
The figures are made up and plausible; nothing here is evidence of anything.
"""

import argparse
import asyncio
import math
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import uvicorn

from monitor.clock import DAY_S, HOUR_S, Interval
from monitor.errors import CommandError
from monitor.estimation.passage import thinned
from monitor.records import (
    Account,
    AlertChange,
    ChargeOption,
    ChargePlan,
    Command,
    Course,
    Ebb,
    Estimate,
    Event,
    EventKind,
    Flow,
    Mode,
    NightLedger,
    OpenAlert,
    PowerPicture,
    Reading,
    Reason,
    Rehearsal,
    RuleChange,
    Severity,
    Share,
    Snapshot,
    SourceHealth,
    Surviving,
)
from monitor.settings import Settings
from monitor.settings_file import parse_settings
from tests.web import canned_alerts, canned_fit_out, canned_nights, canned_odd, canned_water
from web.app import create_app
from web.watch import Record

SAMPLE = Path(__file__).parents[2] / "deploy" / "settings.sample.toml"
NOW_S = 1_795_616_460.0
"""Wed 25 Nov 2026 14:21 UTC, 15:21 by Marram's clock."""
AT_S = 500_000.0
NIGHTS = tuple(
    (NOW_S - 14 * DAY_S + n * DAY_S + 2.7 * HOUR_S, NOW_S - 13 * DAY_S + n * DAY_S - 6.6 * HOUR_S)
    for n in range(26)
)
"""Dusk at some 18:03, dawn at some 8:45 by the ship's clock: every night alike."""


def settings(text: str | None = None) -> Settings:
    return parse_settings(SAMPLE.read_text() if text is None else text, SAMPLE.parent)


EMPTY = settings('[boat]\nname = "Empty"\n')
HOSTILE_NAME = '<script>alert("x")</script>&amp;'
HOSTILE = settings(
    SAMPLE.read_text()
    .replace('name = "Marram"', f"name = '<b>{'&'}Marram'")
    .replace('name = "midship"', "name = '<i onload=x>mid'")
    .replace('"midship"', "'<i onload=x>mid'")
)


def _wave(t: Any, rise: float = 430.0) -> Any:
    """A day's swing of charge about its mean [Wh]: highest in the afternoon."""
    return rise * np.cos((t - NOW_S - 0.7 * HOUR_S) / DAY_S * 2 * math.pi)


def energy(slope_Wh_a_day: float = 330.0) -> Ebb:
    past = np.arange(NOW_S - DAY_S, NOW_S + 1, 900.0)
    ahead = np.arange(NOW_S, NOW_S + 10 * DAY_S + 1, 1800.0)
    level = 4050 - _wave(np.array([NOW_S]))[0]

    def likely(t: Any) -> Any:
        return np.clip(level + _wave(t) - slope_Wh_a_day * (t - NOW_S) / DAY_S, 0, 5888)

    spread = 190 + 230 * np.sqrt((ahead - NOW_S) / DAY_S)
    return Ebb(
        "energy", "house",
        _course(past, likely(past), np.full(len(past), 190.0)),
        _course(ahead, likely(ahead), spread),
        reserve=1177.6, capacity=5888.0,
    )  # fmt: skip


def water(left_L: float = 262.0) -> Ebb:
    past = np.arange(NOW_S - DAY_S, NOW_S + 1, 900.0)
    ahead = np.arange(NOW_S, NOW_S + 10 * DAY_S + 1, 1800.0)

    def likely(t: Any) -> Any:
        return left_L - 34 * (t - NOW_S) / DAY_S - 3 * np.sin((t - NOW_S) / DAY_S * 4 * math.pi)

    spread = 4 + 13 * np.sqrt((ahead - NOW_S) / DAY_S)
    return Ebb(
        "water", "water",
        _course(past, likely(past), np.full(len(past), 4.0)),
        _course(ahead, np.clip(likely(ahead), 0, 407), spread),
        reserve=40.7, capacity=407.0,
    )  # fmt: skip


def _course(t: Any, likely: Any, spread: Any) -> Course:
    low, high = np.maximum(likely - spread, 0), likely + spread
    return Course(*(tuple(float(v) for v in values) for values in (t, low, likely, high)))


def estimate(name: str, subject: str, value: float | None, low: float | None, high: float | None,
             reason: Reason, beyond: bool = False) -> Estimate:  # fmt: skip
    return Estimate(name, subject, AT_S - 20, value, low, high, reason, beyond)


def values() -> dict[str, Reading]:
    now = {
        "house voltage": 13.21, "house current": -11.4, "house temperature": 17.0, "house charge": 74.0,
        "navigation voltage": 13.52, "forward level": 61.2, "midship level": 71.9,
        "pressure pump running": 0.0, "pressure pump pressure": 2.31, "water heater temperature": 47.0,
        "panels power": 38.0, "attitude heel": 1.4,
        "house cell 1 voltage": 3.302, "house cell 2 voltage": 3.305, "house cell 3 voltage": 3.296,
        "house cell 4 voltage": 3.307, "house cell 1 temperature": 17.2, "house cell 2 temperature": 17.4,
        "cabin temperature": 18.6, "shore ac voltage": None,
    }  # fmt: skip
    return {name: Reading(AT_S - 1.2, value, False) for name, value in now.items()}


def estimates() -> dict[tuple[str, str], Estimate]:
    counted = Reason("charge counted", {"since_s": 93_000.0, "offset_A": -0.12})
    told = Reason("days from history", {"days": 21, "place": "at anchor"})
    tank = Reason("tank level", {})
    found = (
        estimate("charge_pct", "house", 68.8, 65.0, 72.4, counted),
        estimate("left_Wh", "house", 4050.0, 3830.0, 4260.0, counted),
        estimate("energy_days", "house", 6.9, 4.6, 9.8, told),
        estimate("autonomy_days", "house", 1.6, 1.4, 1.9, told),
        estimate("tank_L", "forward", 87.0, 83.0, 91.0, tank),
        estimate("tank_L", "midship", 175.0, 170.0, 180.0, tank),
        estimate("left_L", "water", 262.0, 256.0, 268.0, Reason("water in the tanks", {"tanks": 2})),
        estimate("water_days", "water", 6.5, 5.4, 7.7, told),
        estimate("tight_below_L_per_h", "pressure pump", 0.06, 0.0, 0.06, Reason("tight to within", {})),
        estimate("water_L_a_head", "water", 10.8, 9.9, 11.7, told),
    )
    return {(e.name, e.subject): e for e in found}


def power_picture() -> PowerPicture:
    """Sources, a plan that need not be followed, and a rehearsal."""
    dawn_s = NIGHTS[13][1] + DAY_S
    kept = (("navigation lights", 9.0), ("compass light", 1.0), ("VHF radio", 7.0), ("plotter", 22.0))
    watts, loads = 0.0, []
    for name, takes_W in kept:
        watts += takes_W
        loads.append(Surviving(name, takes_W, 610 / watts, 430 / watts))
    return PowerPicture(
        flows=(
            Flow("panels", "sun", 38.0, 940.0, 8200.0, 210.0, True, True),
            Flow("alternator", "alternator", 0.0, 0.0, 3100.0, 640.0, False, True),
            Flow("shore charger", "shore", None, None, None, 920.0, False, True),
        ),
        rehearsals=(
            Rehearsal(
                "navigation", watts, 610 / watts, 430 / watts, tuple(loads),
                Reason("rehearsal: measured", {
                    "bank": "navigation", "watts": watts, "minutes": 15, "end_V": 11.8,
                    "likely_s": 610 / watts * HOUR_S, "low_s": 430 / watts * HOUR_S,
                }),
            ),
        ),
        plan=ChargePlan(
            False, dawn_s, 41.0, 52.0,
            (
                ChargeOption("alternator", "alternator", 640.0, False, 50.0, NOW_S + 9000, 51.0, True),
                ChargeOption("shore charger", "shore", 920.0, False, 35.0, NOW_S + 20000, 52.0, True),
            ),
            Reason("charge: not needed", {
                "dawn_pct": 41.0, "lowest_pct": 38.0, "lowest_s": dawn_s - 2700, "margin_pct": 18.0,
            }),
        ),
    )  # fmt: skip


def night(n: int, **changes: Any) -> NightLedger:
    """One of the fourteen, or a changed one."""
    return replace(LEDGERS[n], **changes)


LEDGERS = canned_nights.nights(NIGHTS[:14], NOW_S)


def well() -> Snapshot:
    return Snapshot(
        serial=1, at_s=AT_S, utc_s=NOW_S, clock_trusted=True, values=values(), estimates=estimates(),
        ebbs=(energy(), water()), alerts=(),
        sources=(
            SourceHealth("backbone", "can", True, AT_S - 0.2, 1_204_331, 3, 41),
            SourceHealth("battery bus", "can", True, AT_S - 0.4, 803_110),
            SourceHealth("broker", "mqtt", True, AT_S - 2.0, 20_420),
        ),
        mode=Mode("at anchor", "awake"),
        nights=(*LEDGERS[:-1], night(13, changed=canned_nights.changed())), loads=canned_nights.kinds(NOW_S),
        darkness=NIGHTS, troubles=(), power=power_picture(), water=canned_water.picture(NOW_S),
        fit_out=canned_fit_out.picture(NOW_S),
    )  # fmt: skip


def unknown() -> Snapshot:
    e = estimates()
    for key in (
        ("charge_pct", "house"),
        ("left_Wh", "house"),
        ("energy_days", "house"),
        ("autonomy_days", "house"),
    ):
        e[key] = estimate(key[0], key[1], None, None, None, Reason("charge unknown until full", {}))
    nothing = Course((), (), (), ())
    plan = ChargePlan(None, None, None, None, (), Reason("charge: charge unknown", {}))
    return replace(
        well(),
        estimates=e,
        power=replace(power_picture(), plan=plan),
        ebbs=(replace(energy(), past=nothing, ahead=nothing), water()),
        nights=(),
    )


def _alert(
    rule: str, subject: str, severity: Severity, ago_s: float, reason: Reason, **more: Any
) -> OpenAlert:
    named = OpenAlert(f"{rule}: {subject}", rule, subject, severity, "active", AT_S - ago_s, reason)
    return replace(named, **more)


def alerts() -> Snapshot:
    e = estimates()
    e["energy_days", "house"] = estimate(
        "energy_days", "house", 1.3, 0.7, 1.9, Reason("days from history", {"days": 21, "place": "at anchor"})
    )
    run = Reason("alert: pump running on", {"pump": "pressure pump", "running_s": 660, "limit_s": 480})
    low = Reason("alert: few energy days", {"subject": "house", "cautious_days": 0.7, "limit_days": 1.0})
    gone = Reason("alert: source silent", {"source": "broker", "silent_s": 900, "instruments": "panels"})
    said = (
        _alert("pump running on", "pressure pump", Severity.ALARM, 660, run, recorded=False),
        _alert("few energy days", "house", Severity.WARNING, 5400, low),
        _alert("source silent", "broker", Severity.CAUTION, 9000, gone, state="acknowledged"),
    )
    return replace(well(), alerts=said, estimates=e, ebbs=(energy(1500.0), water()))


def leaking() -> Snapshot:
    e = estimates()
    del e["tight_below_L_per_h", "pressure pump"]
    suspected = {
        "refills": 5,
        "leak_L_per_h": 0.2,
        "low_L_per_h": 0.16,
        "high_L_per_h": 0.26,
        "leak_L_per_day": 4.8,
    }
    e["leak_L_per_h", "pressure pump"] = estimate(
        "leak_L_per_h", "pressure pump", 0.2, 0.16, 0.26, Reason("leak suspected", suspected)
    )
    return replace(well(), estimates=e, water=canned_water.picture(NOW_S, suspect=True))


def guided() -> Snapshot:
    s = leaking()
    return replace(s, water=replace(s.water, guided=canned_water.waiting(AT_S)))


def filling() -> Snapshot:
    return replace(well(), water=canned_water.pouring(NOW_S))


def silent() -> Snapshot:
    v = values()
    v["midship level"] = Reading(AT_S - 840, 71.9, True)
    v["house current"] = Reading(AT_S - 840, -11.4, True)
    v["house voltage"] = Reading(AT_S - 900, 13.21, True)
    s = well()
    gone = replace(s.sources[2], up=False, heard_at_s=AT_S - 900)
    return replace(s, values=v, sources=(*s.sources[:2], gone))


def unconfirmed() -> Snapshot:
    return replace(well(), clock_trusted=False, demo="ten days of Marram, 20 times as fast")


def no_clock() -> Snapshot:
    return replace(well(), utc_s=None, clock_trusted=False, darkness=(), nights=())


def empty() -> Snapshot:
    return Snapshot(
        serial=1, at_s=3.0, utc_s=NOW_S, clock_trusted=True, values={}, estimates={}, ebbs=(), alerts=(),
        sources=(), mode=Mode("at anchor", "awake"), nights=(), darkness=(), troubles=(),
    )  # fmt: skip


def hostile() -> Snapshot:
    s = alerts()
    bad = replace(s.alerts[0], alert=HOSTILE_NAME, reason=Reason(HOSTILE_NAME, {HOSTILE_NAME: HOSTILE_NAME}))
    e = dict(s.estimates)
    e["tank_L", "<i onload=x>mid"] = estimate(
        "tank_L", "<i onload=x>mid", 3.0, 2.0, 4.0, Reason(HOSTILE_NAME)
    )
    return replace(
        s, alerts=(bad,), estimates=e, demo=HOSTILE_NAME, troubles=(Reason(HOSTILE_NAME),),
        sources=(SourceHealth(HOSTILE_NAME, HOSTILE_NAME, False, None, trouble=HOSTILE_NAME),),
        values={f"{HOSTILE_NAME} voltage": Reading(AT_S - 90, 1.0, True)},
        nights=(
            night(0, by=(Share(HOSTILE_NAME, 3.0, 0.5, (), HOSTILE_NAME),), lowest_V={HOSTILE_NAME: 3.0}),
        ),
        loads=(replace(s.loads[0], id=HOSTILE_NAME, name=HOSTILE_NAME, suggestion=HOSTILE_NAME),),
    )  # fmt: skip


def every_alert() -> Snapshot:
    return canned_alerts.every_state(well())


def flood() -> Snapshot:
    return canned_alerts.flood(well())


def calm() -> Snapshot:
    s = well()
    return replace(s, calls=canned_alerts.calls(s, ()))


def apart() -> Snapshot:
    return canned_fit_out.apart(well(), NOW_S)


def calibrating() -> Snapshot:
    return canned_fit_out.fitted(well(), NOW_S, "pouring")


STATES = {
    "well": (well, settings()),
    "unknown": (unknown, settings()),
    "alerts": (alerts, settings()),
    "every alert": (every_alert, settings()),
    "flood": (flood, settings()),
    "calm": (calm, settings()),
    "leaking": (leaking, settings()),
    "guided": (guided, settings()),
    "filling": (filling, settings()),
    "apart": (apart, settings()),
    "calibrating": (calibrating, settings()),
    "silent": (silent, settings()),
    "unconfirmed": (unconfirmed, settings()),
    "no clock": (no_clock, settings()),
    "silent bank": (lambda: canned_odd.silent_bank(well()), settings()),
    "no senders": (lambda: canned_odd.no_senders(well()), settings(canned_odd.UNSENT)),
    "long names": (
        lambda: canned_odd.long_names(well()),
        settings(canned_odd.long_settings(SAMPLE.read_text())),
    ),
    "empty": (empty, EMPTY),
    "hostile": (hostile, HOSTILE),
}


@dataclass
class CannedSeries:
    utc_s: Any
    low: Any
    mean: Any
    high: Any
    level: str = "minute"


def _left(t: Any) -> Any:
    """What the bank held, more or less as it was forecast."""
    return 4050 + _wave(t) - _wave(np.array([NOW_S]))[0] - 330 * (t - NOW_S) / DAY_S


def _forecast(days_ago: float) -> Event:
    t = NOW_S - days_ago * DAY_S + np.arange(0, 241) * HOUR_S
    days = np.arange(0, 241) / 24
    likely = _left(t) + 40 * days
    course = thinned(_course(t, likely, 60 + 80 * np.sqrt(days)))
    facts = {"course": course, "cautious_days": 4.5, "likely_days": 6.5, "place": "at anchor"}
    return Event(EventKind.FORECAST, "energy", 1, AT_S - days_ago * DAY_S, None, facts)


class CannedRecord:
    """A noisy house bank with a fridge in it, by the minute, from a seed; one hour is missing."""

    def channels(self) -> Sequence[str]:
        return sorted({*values(), *(f"house energy left{edge}" for edge in ("", " low", " high"))})

    def series(self, channel: str, during: Interval, points: int = 2000) -> CannedSeries:
        if channel == "house current" and during.seconds < 3 * HOUR_S:
            t, mean = canned_nights.current(during)
            return CannedSeries(t, mean - 0.2, mean, mean + 0.2, "second")
        n = max(2, min(points, int(during.seconds // 60)))
        t = np.linspace(during.start_s, during.end_s, n, endpoint=False) // 60 * 60
        noise = np.random.default_rng(int(during.start_s) % 2**31).normal(0, 1, n)
        hour = (t + HOUR_S) / HOUR_S % 24
        sun = np.clip(np.sin((hour - 9) / 9 * math.pi), 0, None) * 24 * ((hour > 9) & (hour < 18))
        fridge = np.where((t % 2700) < 1000, 4.6, 0.0)
        evening = np.where((hour > 18) & (hour < 23.4), 4.5, 0.0)
        kettle = np.where(abs(hour - 7.75) < 0.05, 42.0, 0.0)
        current = sun - 2.1 - fridge - evening - kettle + 0.25 * noise
        if "energy left" in channel:
            edge = -190.0 if channel.endswith("low") else 190.0 if channel.endswith("high") else 0.0
            mean = _left(t) + edge
        elif channel.endswith("current"):
            mean = current
        elif channel.endswith("voltage") and during.seconds > 60 * DAY_S:
            mean = canned_alerts.swing(t)
        elif channel.endswith("voltage"):
            mean = 13.2 + 0.006 * current
        else:
            mean = 50 + 5 * np.sin(t / 9000) + noise
        mean = np.where(abs(hour - 3.5) < 0.3, np.nan, mean)
        return CannedSeries(t, mean - 0.4, mean, mean + 0.4)

    def alert_changes(self, during: Interval | None = None) -> Sequence[tuple[AlertChange, float | None]]:
        told = Reason("alert: pump running on", {"pump": "pressure pump", "running_s": 490, "limit_s": 480})
        change = AlertChange(
            "run-on", "pump running on", "pressure pump", Severity.ALARM, 1, AT_S - 50_000, "active", told
        )
        return [(change, NOW_S - 50_000), (replace(change, state="ended"), NOW_S - 49_000)]

    def events(self, kind: Any, during: Interval) -> Sequence[tuple[Event, float | None, float | None]]:
        rows = [
            Event(EventKind.PUMP_RUN, "pressure pump", 1, AT_S - 4000, AT_S - 3960.5, {"litres": 7.26}),
            Event(EventKind.PUMP_RUN, "pressure pump", 1, AT_S - 3900, AT_S - 3889.5, {"litres": 1.9}),
            Event(EventKind.MODE, "boat", 1, AT_S - 90_000, None, {"place": "at anchor", "people": "awake"}),
            Event(EventKind.FULL, "house", 1, AT_S - 95_000, None, {"offset_A": 0.12}),
            *(_forecast(days) for days in (0.8, 1.8, 2.8, 3.8)),
        ]
        found = [
            (e, NOW_S - AT_S + e.start_s, None if e.end_s is None else NOW_S - AT_S + e.end_s) for e in rows
        ]
        return [f for f in found if kind is None or f[0].kind == kind]


class WaterRecord(CannedRecord):
    """The same with three days of pump runs, with a leak in them or without, and two fills."""

    def __init__(self, leak: bool = False) -> None:
        self._more = [*canned_water.household(NOW_S, AT_S, leak), *canned_water.poured(NOW_S, AT_S)]

    def channels(self) -> Sequence[str]:
        return [*super().channels(), "pressure pump running"]

    def events(self, kind: Any, during: Interval) -> Sequence[tuple[Event, float | None, float | None]]:
        own = (EventKind.PUMP_RUN, EventKind.FILL)
        found = [f for f in super().events(kind, during) if f[0].kind not in own]
        for e in self._more:
            start_s, end_s = NOW_S - AT_S + e.start_s, NOW_S - AT_S + (e.end_s or e.start_s)
            if kind in (None, e.kind) and start_s < during.end_s and end_s >= during.start_s:
                found.append((e, start_s, end_s))
        return found


class AlertRecord(CannedRecord):
    """The same with a month of alerts, some of them judged."""

    def alert_changes(self, during: Interval | None = None) -> Sequence[tuple[AlertChange, float | None]]:
        return canned_alerts.a_month(AT_S, NOW_S)[0]

    def events(self, kind: Any, during: Interval) -> Sequence[tuple[Event, float | None, float | None]]:
        found = list(super().events(kind, during))
        return found + (canned_alerts.a_month(AT_S, NOW_S)[1] if kind in (None, EventKind.SCORE) else [])


@dataclass
class CannedWatch:
    """Shows one snapshot until it is given another; remembers what it was asked for."""

    snapshot: Snapshot
    settings: Settings
    record: Record | None = field(default_factory=CannedRecord)
    asked: list[Command] = field(default_factory=list)

    def latest(self) -> Snapshot:
        return self.snapshot

    def history(self) -> Record | None:
        return self.record

    def account(self, during: Interval) -> Account | None:
        night = next((n for n, (start_s, _) in enumerate(NIGHTS[:14]) if start_s == during.start_s), None)
        warm = 1.0 if night is None else canned_nights.warmth(night)
        told = None if self.record is None else canned_nights.account(during, NOW_S, warm)
        if told is None:
            return None
        own = next((n for n in self.snapshot.nights if n.start_s == during.start_s), told.ledger)
        return replace(told, ledger=own)

    def previews(
        self, change: RuleChange | None, during: Interval, rule: str = ""
    ) -> Sequence[canned_alerts.CannedPreview]:
        return canned_alerts.previews(self.snapshot, self.settings, change, during, rule)

    def submit(self, command: Command) -> None:
        if command.subject == "refuse me":
            raise CommandError("there is no such alert")
        self.asked.append(command)

    def tick(self) -> None:
        """A second passes: everything that was heard is heard again."""
        s = self.snapshot
        later = {n: r if r.silent else r._replace(at_s=r.at_s + 1) for n, r in s.values.items()}
        utc_s = None if s.utc_s is None else s.utc_s + 1
        self.snapshot = replace(s, serial=s.serial + 1, at_s=s.at_s + 1, utc_s=utc_s, values=later)


def canned(state: str = "well") -> CannedWatch:
    make, its_settings = STATES[state]
    watch = CannedWatch(make(), its_settings)
    if state == "calm":
        watch.record = AlertRecord()
    if state in ("leaking", "guided", "filling"):
        watch.record = WaterRecord(leak=state != "filling")
    return watch


class Server:
    """A real uvicorn on a free port of loopback, for browsers and streams; use with `with`."""

    def __init__(self, watch: CannedWatch, port: int = 0) -> None:
        config = uvicorn.Config(
            create_app(watch), host="127.0.0.1", port=port, log_level="error", timeout_graceful_shutdown=2
        )
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._run)
        self._up = threading.Event()
        self.url = ""

    def __enter__(self) -> "Server":
        self._thread.start()
        if not self._up.wait(20):
            raise RuntimeError("the canned server did not start within 20 s")
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def stop(self) -> None:
        self._server.should_exit = True
        self._thread.join(10)
        assert not self._thread.is_alive(), "the canned server did not stop within 10 s"

    def _run(self) -> None:
        asyncio.run(self._serve())

    async def _serve(self) -> None:
        self._server.config.load()
        self._server.lifespan = self._server.config.lifespan_class(self._server.config)
        await self._server.startup()
        port = self._server.servers[0].sockets[0].getsockname()[1]
        self.url = f"http://127.0.0.1:{port}"
        self._up.set()
        await self._server.main_loop()
        await self._server.shutdown()


def main() -> None:
    parser = argparse.ArgumentParser(description="Every page in every state, on ports counted up from PORT.")
    parser.add_argument("--port", type=int, default=8080)
    parser.add_argument("--only", choices=list(STATES), help="Serve this state alone, unticking.")
    given = parser.parse_args()
    port = given.port
    if given.only:
        app = create_app(canned(given.only))
        uvicorn.run(app, host="127.0.0.1", port=port, log_level="info", timeout_graceful_shutdown=2)
        return
    watches = [canned(state) for state in STATES]
    for n, (state, watch) in enumerate(zip(STATES, watches, strict=True)):
        Server(watch, port + n).__enter__()
        print(f"http://127.0.0.1:{port + n}  {state}", flush=True)
    while True:
        time.sleep(1)
        for watch in watches:
            watch.tick()


if __name__ == "__main__":
    main()
