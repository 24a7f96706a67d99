"""How what was named is doing, night by night: a fridge that works harder, a standing load that creeps up,
a pump that moves less for what it takes.

A cooler's duty goes with the warmth about it: duty = k (T_air - T_inside), so that nights are compared by
k where the air's temperature is known, and as they are where it is not.
"""

from collections.abc import Iterator, Sequence
from statistics import median

from monitor.clock import HOUR_S
from monitor.estimation.ledger import STANDING
from monitor.estimation.unusual import key
from monitor.records import LoadKind, NightLedger, Reason, Share

LEAST_NIGHTS, MOST_NIGHTS = 5, 14
HARDER = 1.4
"""So many times its usual duty is more than a warm night and an open door. Common practice."""
INSIDE_C = {"fridge": 5.0, "freezer": -16.0}
"""Inside a cooler (common practice); an unnamed one is taken for a fridge."""
LEAST_LIFT_K = 4.0
NO_REST_S = 6 * HOUR_S
CREEPS_W, CREEPS_SHARE, CREEP_NIGHTS = 3.0, 0.25, 7
"""Standing loads that rise so far and by so much of themselves over so many nights creep."""
LEFT_ON_W = 5.0
"""One that is higher by so much at once than in any night of the last week: something was left on."""
WEAKER = 0.7
"""A pump that moves so much less for a watt-hour than it usually did."""
LEAST_PUMP_Wh = 0.5


def health(
    night: NightLedger, before: Sequence[NightLedger], kinds: Sequence[LoadKind]
) -> tuple[Reason, ...]:
    """What is not as it should be of a night's loads, each as a reason with its numbers."""
    earlier = [n for n in before if n.end_s <= night.start_s and n.used_Wh is not None][-MOST_NIGHTS:]
    cycling = {kind.id: kind for kind in kinds if kind.how == "cycles"}
    found: list[Reason] = []
    for share in night.by:
        if share.load in cycling and share.runs:
            found += _cooler(night, share, earlier, cycling[share.load])
    found += _standing(night, earlier)
    found += _pump(night, earlier)
    return tuple(found)


def duty(night: NightLedger, share: Share) -> float | None:
    """The share of the night's heard time in which it ran. None without runs."""
    heard_s = night.end_s - night.start_s - night.missing_s
    if share.runs is None or heard_s <= 0:
        return None
    ran_s = sum(max(0.0, min(b, night.end_s) - max(a, night.start_s)) for a, b in share.runs)
    return min(1.0, ran_s / heard_s)


def _cooler(
    night: NightLedger, share: Share, earlier: Sequence[NightLedger], kind: LoadKind
) -> Iterator[Reason]:
    facts = {"load": kind.id, "name": kind.name}
    longest_s = max(b - a for a, b in share.runs or ((0.0, 0.0),))
    if longest_s > NO_REST_S:
        yield Reason("health: no rest", {**facts, "hours": longest_s / HOUR_S})
    now = _effort(night, share, kind)
    past = [
        effort
        for n in earlier
        for s in n.by
        if s.load == share.load and (effort := _effort(n, s, kind)) is not None
    ]
    if now is None or len(past) < LEAST_NIGHTS:
        return
    usual = median(past)
    if usual > 0 and now > HARDER * usual:
        yield Reason(
            "health: works harder",
            {**facts, "more": 100 * (now / usual - 1), "duty": 100 * (duty(night, share) or 0.0)},
        )


def _effort(night: NightLedger, share: Share, kind: LoadKind) -> float | None:
    """Its duty for a degree that it holds against, or its duty where no air is known."""
    found = duty(night, share)
    if found is None or night.air_C is None:
        return found
    inside_C = INSIDE_C.get(kind.name or kind.suggestion, INSIDE_C["fridge"])
    return found / max(LEAST_LIFT_K, night.air_C - inside_C) * 10.0


def _standing_W(night: NightLedger) -> float | None:
    heard_h = (night.end_s - night.start_s - night.missing_s) / HOUR_S
    Wh = sum(share.Wh for share in night.by if share.what == STANDING)
    return Wh / heard_h if heard_h > 1.0 and Wh > 0 else None


def _standing(night: NightLedger, earlier: Sequence[NightLedger]) -> Iterator[Reason]:
    now = _standing_W(night)
    alike = [n for n in earlier if n.place == night.place]
    past = [watts for n in alike if (watts := _standing_W(n)) is not None]
    if now is None or len(past) < LEAST_NIGHTS:
        return
    if now > max(past[-CREEP_NIGHTS:]) + LEFT_ON_W:
        yield Reason("health: left on", {"W": now - median(past)})
        return
    course = [*past, now][-CREEP_NIGHTS:]
    first, last = (median(part) for part in (course[:3], course[-3:]))
    if len(course) >= CREEP_NIGHTS and last - first > max(CREEPS_W, CREEPS_SHARE * first):
        yield Reason("health: standing creeps", {"W": last - first, "nights": len(course)})


def _pump(night: NightLedger, earlier: Sequence[NightLedger]) -> Iterator[Reason]:
    """Litres for a watt-hour, of whatever the pump is called."""
    pump = next((s for s in night.by if s.what and "pump" in s.what.lower()), None)
    if pump is None or night.water_L is None or pump.Wh < LEAST_PUMP_Wh:
        return
    past = [
        n.water_L / s.Wh
        for n in earlier
        for s in n.by
        if key(s) == key(pump) and n.water_L and s.Wh >= LEAST_PUMP_Wh
    ]
    if len(past) >= LEAST_NIGHTS and night.water_L / pump.Wh < WEAKER * median(past):
        facts = {"L_per_Wh": night.water_L / pump.Wh, "usual": median(past)}
        yield Reason(
            "health: pump weaker", {**facts, "less": 100 * (1 - night.water_L / pump.Wh / median(past))}
        )
