"""What every rule finds in the facts: limits and deadbands, nothing about time.

Each function answers for one rule and every subject it watches. The distance between where a
finding holds and where it clears is the deadband of its rule; the figures are common practice.
"""

from collections.abc import Iterator

from monitor.alerts import silence
from monitor.alerts.facts import Facts
from monitor.estimation.leak import SUSPECTED, TIGHT, UNKNOWN
from monitor.records import Estimate, Finding, Reason, Severity
from monitor.settings import Bank, Pump

NEAR_LIMIT_PCT = 5.0
"""A likely charge this close above its limit is low when its band reaches below the limit."""
SEVERE_V_PER_CELL = 0.1
"""So far below the limit a bank is severely low."""
PRESSING_DAYS = 1.0
"""What runs out in days wants no answer within the half day that a warning means; under this it does."""
UNSURE_PCT, EXPLAINED_PCT = 50.0, 60.0
"""How likely another cause of the pump's refills must be to keep a leak from being told, and to end it."""
DEAD_WAY_S = 3600.0
"""A way out that has confirmed nothing for so long, although something was due, is dead."""
DRAWING_RATIO = 0.7
"""A tank that falls by this part of the pump's flow is what the pump is emptying."""


def findings(facts: Facts) -> list[Finding]:
    """Everything the rules say now, the whole list every time."""
    return [
        *_voltages(facts),
        *_charges(facts),
        *_energy_days(facts),
        *_water(facts),
        *_pumps(facts),
        *silence.sources(facts),
        *silence.instruments(facts),
        _clock(facts),
        _store(facts),
        *_ways(facts),
        *facts.found,
    ]


def _voltages(facts: Facts) -> Iterator[Finding]:
    """Of every bank but a lead buffer, whose own watch knows rest, converter and hours left."""
    for bank in facts.settings.banks:
        if bank.role == "buffer" and bank.chemistry == "lead":
            continue
        reading = facts.values.get(f"{bank.name} voltage")
        voltage_V = None if reading is None or reading.silent else reading.value
        limit_V = facts.limit("low voltage", bank.name)
        severe_V = limit_V - SEVERE_V_PER_CELL * bank.cells
        deadband_V = facts.deadband("low voltage", bank.name)
        yield Finding(
            "low voltage",
            bank.name,
            _under(voltage_V, limit_V),
            _over(voltage_V, limit_V + deadband_V),
            Reason("alert: low voltage", {"bank": bank.name, "voltage_V": voltage_V, "limit_V": limit_V}),
            urgent=bool(_under(voltage_V, severe_V)),
            under=(("cut off", bank.name),),
        )


def _charges(facts: Facts) -> Iterator[Finding]:
    for bank in facts.settings.banks:
        if bank.role != "house":
            continue
        ever_full = facts.last_full_s.get(bank.name) is not None
        yield Finding(
            "charge unknown",
            bank.name,
            not ever_full,
            ever_full,
            Reason("alert: charge unknown", {"bank": bank.name}),
        )
        yield from _charge(facts, bank, facts.estimates.get(("charge_pct", bank.name)) if ever_full else None)


def _charge(facts: Facts, bank: Bank, charge: Estimate | None) -> Iterator[Finding]:
    limit, apart = (of("low charge", bank.name) for of in (facts.limit, facts.deadband))
    likely, low = _likely_and_low(charge)
    told = {"bank": bank.name, "likely_pct": likely, "low_pct": low, "limit_pct": limit}
    is_low = is_over = edge_low = edge_over = None
    if likely is not None and low is not None:
        is_low = likely < limit or (likely <= limit + NEAR_LIMIT_PCT and low < limit)
        edge_low = low < limit and not is_low
        edge_over = low >= limit + apart
        is_over = not is_low and (edge_over or likely >= limit + NEAR_LIMIT_PCT + apart)
    graver = (("cut off", bank.name), ("low voltage", bank.name))
    yield Finding("low charge", bank.name, is_low, is_over, Reason("alert: low charge", told), under=graver)
    yield Finding(
        "charge not vouched for",
        bank.name,
        edge_low,
        edge_over,
        Reason("alert: charge not vouched for", told),
        under=(*graver, ("low charge", bank.name)),
    )


def _energy_days(facts: Facts) -> Iterator[Finding]:
    for bank in facts.settings.banks:
        if bank.role == "house":
            ever_full = facts.last_full_s.get(bank.name) is not None
            days = facts.estimates.get(("energy_days", bank.name)) if ever_full else None
            roots = tuple((rule, bank.name) for rule in ("cut off", "low voltage", "low charge"))
            yield _days(facts, "few energy days", bank.name, days, roots)


def _water(facts: Facts) -> Iterator[Finding]:
    tanks = [tank for tank in facts.settings.tanks if not tank.doubtful]
    if not tanks:
        return
    left_L, _ = _likely_and_low(facts.estimates.get(("left_L", "water")))
    limit_L = facts.limit("low water", "water")
    deadband_L = facts.deadband("low water", "water")
    yield Finding(
        "low water",
        "water",
        _under(left_L, limit_L),
        _over(left_L, limit_L + deadband_L),
        Reason("alert: low water", {"left_L": left_L, "limit_L": limit_L}),
    )
    days = facts.estimates.get(("water_days", "water"))
    yield _days(facts, "few water days", "water", days, (("low water", "water"),))


def _days(
    facts: Facts, rule: str, subject: str, days: Estimate | None, roots: tuple[tuple[str, str], ...]
) -> Finding:
    """The cautious day decides: it is the one to plan on."""
    limit = facts.limit(rule, subject)
    likely, cautious = _likely_and_low(days)
    told = {"subject": subject, "cautious_days": cautious, "likely_days": likely, "limit_days": limit}
    return Finding(
        rule,
        subject,
        _under(cautious, limit),
        _over(cautious, limit + facts.deadband(rule, subject)),
        Reason(f"alert: {rule}", told),
        Severity.WARNING if cautious is not None and cautious < PRESSING_DAYS else None,
        under=roots,
    )


def _pumps(facts: Facts) -> Iterator[Finding]:
    for pump in facts.settings.pumps:
        yield _running_on(facts, pump)
        yield _leak(facts, pump)


def _running_on(facts: Facts, pump: Pump) -> Finding:
    limit_s = facts.limit("pump running on", pump.name) * 60
    running_s = facts.running_s.get(pump.name)
    holds = None if running_s is None else running_s >= limit_s
    told = {"pump": pump.name, "running_s": running_s, "limit_s": limit_s}
    reason, severity = Reason("alert: pump running on", told), None
    if running_s is not None and holds:
        fallen_L = facts.fallen_L.get(pump.name)
        emptying = fallen_L is not None and fallen_L >= DRAWING_RATIO * pump.flow_L_per_min * running_s / 60
        if emptying:
            reason = Reason("alert: pump emptying a tank", {**told, "fallen_L": fallen_L})
        if emptying or running_s >= 2 * limit_s:
            severity = Severity.ALARM
    clears = None if holds is None else not holds
    under = _by_name(pump, "burst", "pump dry", "pump switch stuck")
    return Finding("pump running on", pump.name, holds, clears, reason, severity, under=under)


def _leak(facts: Facts, pump: Pump) -> Finding:
    """The judge accuses; the limit keeps a drip too small to matter from being an alert, and a cooling
    heater, a check valve or a weeping relief valve that explains the refills is no leak as well."""
    verdict, reason = facts.verdicts.get(pump.name, (UNKNOWN, Reason("alert: leak not judged")))
    leak = facts.estimates.get(("leak_L_per_h", pump.name))
    holds = clears = None
    if verdict in (SUSPECTED, TIGHT):
        rate = leak.value if leak is not None else None
        matters = rate is None or rate * 24 >= facts.limit("leak suspected", pump.name)
        holds = verdict == SUSPECTED and matters
        clears = verdict == TIGHT
    explained = facts.estimates.get(("leak_explained_pct", pump.name))
    pct = 0.0 if explained is None or explained.value is None else explained.value
    if holds and explained is not None and pct >= UNSURE_PCT:
        holds, clears, reason = False, pct >= EXPLAINED_PCT, explained.reason
    under = _by_name(pump, "pump running on", "burst", "pump dry", "pump switch stuck", "tap left open")
    return Finding("leak suspected", pump.name, holds, clears, reason, under=under)


def _by_name(pump: Pump, *rules: str) -> tuple[tuple[str, str], ...]:
    return tuple((rule, pump.name) for rule in rules)


def _clock(facts: Facts) -> Finding:
    trusted = facts.clock_trusted
    return Finding("clock not confirmed", "clock", not trusted, trusted, Reason("alert: clock not confirmed"))


def _store(facts: Facts) -> Finding:
    reason = facts.troubles[0] if facts.troubles else Reason("alert: store is well")
    return Finding("store trouble", "store", bool(facts.troubles), not facts.troubles, reason)


def _ways(facts: Facts) -> Iterator[Finding]:
    """A way out that confirms nothing although something was due."""
    for way in facts.ways:
        dead = way.failing_s > DEAD_WAY_S
        told = {"way": way.name, "failing_s": way.failing_s, "waiting": way.waiting, "trouble": way.trouble}
        yield Finding(
            "way out dead", way.name, dead, way.failing_s == 0.0, Reason("alert: way out dead", told)
        )


def _likely_and_low(estimate: Estimate | None) -> tuple[float | None, float | None]:
    return (None, None) if estimate is None else (estimate.value, estimate.low)


def _under(value: float | None, limit: float) -> bool | None:
    return None if value is None else value < limit


def _over(value: float | None, limit: float) -> bool | None:
    return None if value is None else value >= limit
