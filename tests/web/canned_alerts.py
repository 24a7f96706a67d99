"""Alerts of every state, a flood of a thousand, names that are long or hostile: for the pages of alerts."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from monitor.alerts.limits import LIMITS
from monitor.alerts.preview import Outlook, outlook, situation
from monitor.alerts.rulebook import Rulebook
from monitor.alerts.rules import RULES
from monitor.clock import DAY_S, HOUR_S, Interval
from monitor.records import (
    AlertChange,
    Calls,
    Event,
    EventKind,
    Job,
    OpenAlert,
    Reason,
    RuleChange,
    RuleState,
    Severity,
    Snapshot,
    Sound,
    Way,
)
from monitor.settings import Settings

LONG = "bilge manifold of the port quarter cabin's second shower, aft of the chain locker"
SILENCE = Sound()
HTML = '<b onclick=x>hold</b> & "sump"'


def alert(at_s: float, rule: str, subject: str, ago_s: float, reason: Reason, **more: Any) -> OpenAlert:
    named = OpenAlert(
        f"{rule}/{subject}", rule, subject, RULES[rule].severity, "active", at_s - ago_s, reason
    )
    return replace(named, **more)


def every_state(s: Snapshot) -> Snapshot:
    """One or two of each."""
    at_s = s.at_s
    low_V = Reason("alert: low voltage", {"bank": "house", "voltage_V": 12.31, "limit_V": 12.0})
    charge = Reason("alert: low charge", {"bank": "house", "likely_pct": 27, "low_pct": 22, "limit_pct": 30})
    silent = Reason(
        "alert: source silent", {"source": "broker", "silent_s": 900, "instruments": "panels, cabin"}
    )
    days = Reason("alert: few energy days", {"subject": "house", "cautious_days": 0.7, "limit_days": 1.0})
    water = Reason("alert: low water", {"left_L": 38.0, "limit_L": 60.0})
    deaf = Reason("alert: instrument silent", {"subject": "midship", "quantities": "level", "silent_s": 840})
    clock = Reason("alert: clock not confirmed")
    run = Reason("alert: pump running on", {"pump": "pressure pump", "running_s": 660, "limit_s": 480})
    never = Reason("alert: instrument never heard", {"subject": HTML})
    ended = Reason("alert: no longer watched")
    root = Reason("alert: grouped", {"rule": "low voltage", "subject": "house"})
    told = (
        alert(at_s, "low voltage", "house", 190, low_V, escalated=True, recorded=False,
              children=(("low charge", "house"), ("few energy days", "house"))),
        alert(at_s, "low water", "water", 5400, water, stale_s=at_s - 720),
        alert(at_s, "instrument silent", HTML, 4000, never),
        alert(at_s, "clock not confirmed", "clock", 8000, clock, chatters=True),
        alert(at_s, "source silent", "broker", 9000, silent, state="acknowledged"),
        alert(at_s, "pump running on", "pressure pump", 20_000, run, state="returned"),
        alert(at_s, "store trouble", "store", 30_000, ended, state="returned"),
        alert(at_s, "low charge", "house", 170, charge, state="suppressed", because=root),
        alert(at_s, "few energy days", "house", 160, days, state="suppressed", because=root),
        alert(at_s, "instrument silent", LONG, 800, deaf, state="shelved", until_s=at_s + 2700),
    )  # fmt: skip
    return replace(s, alerts=told, calls=calls(s, told, Sound("alarm", told[0].alert, 4)))


def calls(s: Snapshot, alerts: Iterable[OpenAlert], sound: Sound = SILENCE) -> Calls:
    """What stands beside those alerts: a job, the ways out, the rules' states, two changes."""
    open_now = {(a.rule, a.subject): a for a in alerts}
    utc_s = s.utc_s or 0.0
    watched = [
        RuleState("low voltage", "house", "normal", 12.0),
        RuleState("low voltage", "navigation", "normal", 12.0),
        RuleState("low charge", "house", "normal", 35.0), RuleState("low water", "water", "normal", 60.0),
        RuleState("few energy days", "house", "pending", 1.0),
        RuleState("few water days", "water", "normal", 3.0),
        RuleState("pump running on", "pressure pump", "normal", 8.0),
        RuleState("leak suspected", "pressure pump", "stale", 2.0),
        RuleState("source silent", "broker", "normal", 60.0),
        RuleState("source silent", "backbone", "normal", 60.0),
        RuleState("instrument silent", HTML, "normal"), RuleState("instrument silent", LONG, "normal"),
        RuleState("clock not confirmed", "clock", "normal"), RuleState("store trouble", "store", "normal"),
    ]  # fmt: skip
    return Calls(
        sound=sound,
        jobs=(Job("washing down", s.at_s + 1980),),
        shelf=tuple((a.rule, a.subject, a.until_s) for a in alerts if a.until_s is not None),
        rules=tuple(
            w._replace(state=open_now[w.rule, w.subject].state) if (w.rule, w.subject) in open_now else w
            for w in watched
        ),
        ways=(
            Way("galley siren", "loudspeaker", utc_s - 340),
            Way("phone ashore", "message", utc_s - 7300, 3, "no route to host", 1500.0),
            Way("broker of the boat", "mqtt"),
        ),
        changes=(
            RuleChange("low charge", "house", 35.0, {"sailing": 45.0}),
            RuleChange("low water", wakes=True),
        ),
    )


def flood(s: Snapshot, count: int = 1000) -> Snapshot:
    """A thousand of all rules, nobody has seen any: two alarms among them, the graver of them the oldest."""
    rules = [r for r in RULES.values() if r.severity is not Severity.ALARM]
    told = [
        alert(s.at_s, rules[n % len(rules)].id, f"thing {n}", 10 + n / 10,
              Reason("alert: low water", {"left_L": 30.0 + n, "limit_L": 60.0}))
        for n in range(count - 2)
    ]  # fmt: skip
    burst = Reason("alert: pump running on", {"pump": "pressure pump", "running_s": 90, "limit_s": 60})
    told.append(alert(s.at_s, "burst", "pressure pump", 500, burst))
    low_V = Reason("alert: low voltage", {"bank": "house", "voltage_V": 11.1, "limit_V": 12.0})
    told.append(alert(s.at_s, "low voltage", "house", 60, low_V))
    sound = Sound("alarm", told[-2].alert, 9)
    return replace(s, alerts=tuple(told), calls=replace(calls(s, told, sound), flood=count))


@dataclass(frozen=True)
class CannedPreview:
    subject: str
    by: Reason
    outlook: Outlook | None

    @property
    def refused(self) -> bool:
        return self.outlook is not None and self.outlook.for_ever


def swing(at_s: Any) -> Any:
    """A bank's voltage that falls every night and further every ninth: made up [V]."""
    deep = np.where(at_s // DAY_S % 9 == 0, 0.9, 0.45)
    return 13.0 - deep * (1 + np.cos((at_s % DAY_S) / DAY_S * 2 * np.pi)) / 2


def previews(
    s: Snapshot, settings: Settings, change: RuleChange | None, during: Interval, rule: str
) -> Sequence[CannedPreview]:
    """Of the low voltage by `swing`; of any other rule nothing is recorded."""
    book = Rulebook(settings, s.calls.changes)
    if change is not None:
        book, rule = book.changed(change, 2), change.rule
    subjects = [r.subject for r in s.calls.rules if r.rule == rule and change is None]
    if change is not None:
        subjects = (
            [change.subject] if change.subject else [r.subject for r in s.calls.rules if r.rule == rule]
        )
    if rule != "low voltage":
        return [CannedPreview(one, Reason("preview: not recorded"), None) for one in subjects]
    at_s = np.arange(during.start_s, during.end_s, 120.0)
    nights = [
        Interval(t + 22 * HOUR_S, t + 30 * HOUR_S) for t in np.arange(during.start_s, during.end_s, DAY_S)
    ]
    found = []
    for subject in subjects:
        limit = book.limit(rule, subject, s.mode, 2) or 0.0
        seen = situation(LIMITS[rule], at_s, swing(at_s), limit, 0.2)
        told = outlook(book.rules[rule], seen, np.ones(len(at_s), bool), nights)
        found.append(CannedPreview(subject, Reason("preview: by the lowest of each minute"), told))
    return found


def a_month(
    at_s: float, now_s: float
) -> tuple[list[tuple[AlertChange, float | None]], list[tuple[Event, float | None, float | None]]]:
    """Alerts that came and went, and what the crew said of some: a pump that ran on every other day for four
    minutes, a low charge three times for hours, of which two were false, and a clock that cautioned."""
    kinds = (
        ("pump running on", "pressure pump", 2, 240.0, ()),
        ("low charge", "house", 9, 14_000.0, (False, False, True)),
        ("clock not confirmed", HTML, 12, 900.0, ()),
    )
    told = Reason("alert: low water", {"left_L": 38.0, "limit_L": 60.0})
    changes: list[tuple[AlertChange, float | None]] = []
    scores: list[tuple[Event, float | None, float | None]] = []
    for rule, subject, days, lasted_s, true in kinds:
        for n in range(28 // days):
            ago_s = (n * days + 0.4) * DAY_S
            id = f"{rule}/{subject}/{n}"
            began = AlertChange(id, rule, subject, RULES[rule].severity, 1, at_s - ago_s, "active", told)
            ended = replace(began, at_s=began.at_s + lasted_s, state="ended", what="ended")
            changes += [(began, now_s - ago_s), (ended, now_s - ago_s + lasted_s)]
            if n < len(true):
                facts = {"true": true[n]}
                scores.append((Event(EventKind.SCORE, id, 1, at_s, None, facts), now_s, None))
    return changes, scores
