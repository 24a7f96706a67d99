"""What is told of a pump's plumbing: findings for the alerts, evidence and the next step for the page."""

from collections.abc import Mapping
from typing import NamedTuple

from monitor.estimation.plumbing_at_once import Clause
from monitor.estimation.plumbing_run import BURST, DRY, SIGNAL, STUCK
from monitor.estimation.plumbing_verdicts import (
    ABOVE,
    CHECK_VALVE,
    FLAT,
    LEAK,
    NO,
    NONE,
    RELIEF,
    SILENT,
    STRAINER,
    TAP,
    VERDICTS,
    YES,
)
from monitor.records import Finding, Reason

SIGN_OF = {
    ABOVE: "falls alone", FLAT: "short refills", RELIEF: "with heating", TAP: "stream", STRAINER: "flow low",
    SILENT: "no start",
}  # fmt: skip
"""The sign without which a fault is not told."""
RIVAL = 0.2
"""A verdict that shows a sign this often is another explanation of it."""
KEEPS, LOST = 0.6, 0.2
"""A check valve is told at the first probability and no longer below the second."""
QUIET = "alert: plumbing quiet"

FACTS: Mapping[str, tuple[str, ...]] = {
    "alert: burst by pressure": ("running_s", "bars", "cut_out_bar"),
    "alert: burst by current": ("running_s", "amps", "usual_A"),
    "alert: burst by tank": ("running_s", "fallen_L"),
    "alert: burst by length": ("running_s", "limit_s"),
    "alert: burst by share": ("running_s", "pumped_L", "share_pct"),
    "alert: pump dry by pressure": ("running_s", "bars"),
    "alert: pump dry by current": ("running_s", "amps", "usual_A"),
    "alert: pump dry by tank": ("running_s", "pumped_L"),
    "alert: pump switch stuck by pressure": ("running_s", "bars", "cut_out_bar"),
    "alert: pump switch stuck by current": ("running_s", "amps", "usual_A"),
    "alert: pump switch stuck by tank": ("running_s", "pumped_L"),
    "alert: pump signal wrong": ("running_s",),
    "alert: leak above the pump": ("excess_L", "excess_h", "pumped_L_then"),
    "alert: check valve leaks back": ("lone_L", "lone_h"),
    "alert: accumulator flat": ("short", "short_of", "promised_s"),
    "alert: relief valve weeps": ("heated_starts",),
    "alert: tap left open": ("rate_L_per_h",),
    "alert: strainer clogging": ("flow_pct",),
    "alert: pump silent": ("still_s", "gone_L"),
    "plumbing: refills": ("leak_L_per_h", "leak_L_per_day"),
    "plumbing: refills cost days": ("leak_L_per_h", "leak_L_per_day", "days_lost"),
    "plumbing: rests": ("bound_L_per_h",),
    "plumbing: tank matches": ("lone_L", "lone_h"),
    "plumbing: not with heating": (),
    "plumbing: cooling": ("cooled", "cooled_L"),
}
"""By reason: the facts that its sentence needs, beside the pump's name."""


class Told(NamedTuple):
    """All that is known of one pump now."""

    pump: str
    ran_s: float | None
    limit_s: float
    clause: Clause
    """Of the run under way."""
    signs: Mapping[str, str | None]
    chances: Mapping[str, float]
    returned: float
    """Log likelihood ratio: refills ran back to the tank, against: they are gone."""
    facts: Mapping[str, float | None]

    def reason(self, id: str) -> Reason:
        return Reason(id, {"pump": self.pump} | {name: self.facts.get(name) for name in FACTS.get(id, ())})


def finding(told: Told, rule: str) -> Finding:
    """What one rule finds."""
    if rule in (BURST, DRY, STUCK):
        return _at_once(told, rule)
    if rule == CHECK_VALVE:
        return _check_valve(told)
    sign = told.signs.get(SIGN_OF[rule])
    signal_wrong = rule == SILENT and told.clause.fault == SIGNAL
    chance = told.chances.get(rule, 0.0)
    rivals = [told.chances[v] for v, f in VERDICTS.items() if f.shows.get((SIGN_OF[rule], YES), 0.0) >= RIVAL]
    holds = clears = None
    if sign is not None or signal_wrong:
        holds = signal_wrong or (sign == YES and chance >= max(rivals, default=0.0))
        clears = sign == NO and not signal_wrong
    elif rule == RELIEF and told.facts.get("quiet_heated_h") is not None:
        holds, clears = False, True  # Water was heated for hours, and the valve kept it.
    id = "alert: pump signal wrong" if signal_wrong else f"alert: {rule}"
    under = ((BURST, told.pump), (DRY, told.pump), (STUCK, told.pump)) if rule in (TAP, ABOVE) else ()
    return Finding(rule, told.pump, holds, clears, told.reason(id if holds else QUIET), under=under)


def _at_once(told: Told, rule: str) -> Finding:
    fault, clause, severity = told.clause
    if told.ran_s is None:
        return Finding(rule, told.pump, None, None, told.reason(QUIET))
    if fault != rule:
        over = told.ran_s < told.limit_s or fault is not None
        return Finding(rule, told.pump, False, over, told.reason(QUIET))
    return Finding(rule, told.pump, True, False, told.reason(f"alert: {rule} by {clause}"), severity)


def _check_valve(told: Told) -> Finding:
    chance = told.chances.get(CHECK_VALVE, 0.0)
    judged = told.signs.get("refills")
    holds = clears = None
    if judged is not None:
        holds = judged == LEAK and chance >= KEEPS
        clears = judged == NONE or chance < LOST
    reason = told.reason("alert: check valve leaks back" if holds else QUIET)
    return Finding(CHECK_VALVE, told.pump, holds, clears, reason)


def evidence(told: Told) -> tuple[Reason, ...]:
    """The signs that are seen, each as a sentence."""
    found: list[str] = []
    fault, clause, _ = told.clause
    signs = told.signs
    if fault is not None:
        found.append("alert: pump signal wrong" if fault == SIGNAL else f"alert: {fault} by {clause}")
    if signs.get("refills") == LEAK:
        costs = told.facts.get("days_lost") is not None
        found.append("plumbing: refills cost days" if costs else "plumbing: refills")
    if signs.get("refills") == NONE:
        found.append("plumbing: rests")
    if signs.get("refills") == LEAK and abs(told.returned) >= 1.0:
        found.append("alert: check valve leaks back" if told.returned > 0 else "plumbing: tank matches")
    found += [f"alert: {rule}" for rule, sign in SIGN_OF.items() if signs.get(sign) == YES]
    if signs.get("with heating") == NO:
        found.append("plumbing: not with heating")
    if signs.get("cooling explains") == YES:
        found.append("plumbing: cooling")
    return tuple(told.reason(id) for id in found)


def next_step(told: Told, verdict: str) -> Reason | None:
    """The next test, or the thing to do."""
    return told.reason(f"next: {verdict}")
