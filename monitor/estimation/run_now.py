"""Can I run it now? One load against supply, inverter, bank and the coming night."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from monitor.clock import HOUR_S
from monitor.estimation.afterwards import Afterwards, afterwards
from monitor.estimation.carrying import Aboard, Carried, carry, gives_way, on_the_bank
from monitor.estimation.house_left import HouseLeft, house_left
from monitor.estimation.passage import Stand
from monitor.records import Course, Estimate, Reading, Reason
from monitor.settings import Settings

FOR_HOURS, LONG_MIN = 0.8, 60.0
"""Of a breaker's figure, for more than an hour. Common practice."""
MOTOR_STARTS = 3.0
"""A motor takes up to this many times its power as it starts. Common practice."""


@dataclass(frozen=True, slots=True)
class RunAnswer:
    """What comes of running it. Per cent are of the house banks together, None where unknown."""

    can: bool | None
    """Nothing gives way, and the cautious charge stays above the reserve; None: not known."""
    carried_by: str
    """ "supply", "bank", "both" or "nothing"."""
    supply: str | None
    supply_A: float | None
    """All that the supply gives then."""
    bank_W: float
    """What the bank gives more than without it."""
    after_pct: float | None
    after_low_pct: float | None
    dawn_pct: float | None
    dawn_low_pct: float | None
    lasts_h: float | None
    """How long the bank could do it, down to the reserve; None where it gives nothing, or unknown."""
    lasts_low_h: float | None
    reasons: tuple[Reason, ...]
    """What to tell, in order: what carries it, what gives way, what is left, the care to take."""


def run_now(
    watts: float,
    minutes: float,
    settings: Settings,
    values: Mapping[str, Reading],
    estimates: Mapping[tuple[str, str], Estimate],
    ahead: Course | None,
    now_utc_s: float | None,
    *,
    power_factor: float = 0.9,
    dc: bool = False,
) -> RunAnswer:
    """What happens if a load is switched on now.

    Args:
        watts: What it takes. [W]
        minutes: For how long.
        settings: The boat,
        values: her newest readings by channel,
        estimates: and estimates by (name, subject): left_Wh, and dawn_pct, which tells when dawn is.
        ahead: The forecast of the energy left with the usual charging; None where there is none. [Wh]
        now_utc_s: Wall time; None while it is not known.
        power_factor: Of the load. [-]
        dc: It hangs on the bank itself, not on mains.

    Raises ValueError where watts or minutes are not above 0 or the power factor is not in (0, 1].
    """
    if not (0 < watts < float("inf") and 0 < minutes < float("inf") and 0 < power_factor <= 1):
        raise ValueError(f"expected watts and minutes above 0, got {watts} W for {minutes} min")
    aboard = Aboard(settings, values)
    carried = on_the_bank(watts) if dc else carry(aboard, watts, power_factor)
    if carried is None or (carried.supply is None and aboard.bank is None):
        return _nobody(watts)
    trips = tuple(gives_way(aboard, carried))
    left = house_left(settings, estimates)
    fate = afterwards(aboard, left, estimates, ahead, now_utc_s, carried.bank_W, minutes)
    can: bool | None = not trips
    if can and carried.bank_W > 0:
        can = None if left is None or fate.end is None else fate.end.low >= left.reserve_Wh
    after_pct, after_low_pct = _pct(left, fate.end)
    dawn_pct, dawn_low_pct = _pct(left, fate.dawn)
    lasts_h, lasts_low_h = fate.hours or (None, None)
    return RunAnswer(
        can=can,
        carried_by=carried.by,
        supply=carried.supply.name if carried.supply is not None else None,
        supply_A=carried.amps if carried.supply is not None else None,
        bank_W=carried.bank_W,
        after_pct=after_pct,
        after_low_pct=after_low_pct,
        dawn_pct=dawn_pct,
        dawn_low_pct=dawn_low_pct,
        lasts_h=lasts_h,
        lasts_low_h=lasts_low_h,
        reasons=(
            _carries(aboard, carried, watts),
            *trips,
            *_charge(left, fate, carried.bank_W, minutes),
            *_cares(aboard, carried, watts, minutes, dc),
        ),
    )


def _pct(left: HouseLeft | None, stand: Stand | None) -> tuple[float | None, float | None]:
    """Likely and cautious."""
    return (None, None) if left is None or stand is None else (left.pct(stand.likely), left.pct(stand.low))


def _nobody(watts: float) -> RunAnswer:
    reasons = (Reason("run: by nobody", {"watts": watts}),)
    return RunAnswer(False, "nothing", None, None, 0.0, None, None, None, None, None, None, reasons)


def _carries(aboard: Aboard, carried: Carried, watts: float) -> Reason:
    told = {
        "watts": watts, "bank_W": carried.bank_W, "bank": aboard.bank.name if aboard.bank else None,
        "supply": carried.supply.name if carried.supply else None, "amps": carried.amps,
        "limit_A": carried.limit_A, "inverter": aboard.inverter.name if aboard.inverter else None,
    }  # fmt: skip
    if carried.by == "bank" and carried.inverter_W > 0:
        return Reason("run: by the bank through the inverter", told)
    return Reason(
        {"supply": "run: by the supply", "bank": "run: by the bank", "both": "run: by both"}[carried.by], told
    )


def _charge(left: HouseLeft | None, fate: Afterwards, bank_W: float, minutes: float) -> Iterator[Reason]:
    used_Wh = bank_W * minutes / 60
    if bank_W <= 0:
        return
    if left is None or fate.end is None:
        yield Reason("run: charge unknown", {"used_Wh": used_Wh})
        return
    told = {"used_Wh": used_Wh, "reserve_pct": left.reserve_pct}
    short = fate.end.low < left.reserve_Wh
    yield Reason(
        "run: charge after, under the reserve" if short else "run: charge after",
        told | {"pct": left.pct(fate.end.likely), "low_pct": left.pct(fate.end.low)},
    )
    if fate.hours is not None:
        likely_s, low_s = (hours * HOUR_S for hours in fate.hours)
        yield Reason("run: bank lasts", told | {"lasts_s": likely_s, "low_s": low_s})
    if fate.dawn is None or fate.dawn_without is None:
        return
    told |= {"pct": left.pct(fate.dawn.likely), "low_pct": left.pct(fate.dawn.low)}
    told |= {
        "before_pct": left.pct(fate.dawn_without.likely),
        "before_low_pct": left.pct(fate.dawn_without.low),
    }
    why = "run: dawn, under the reserve" if fate.dawn.low < left.reserve_Wh else "run: dawn"
    yield Reason("run: made up by dawn" if fate.made_up else why, told)


def _cares(aboard: Aboard, carried: Carried, watts: float, minutes: float, dc: bool) -> Iterator[Reason]:
    supply, inverter = carried.supply, aboard.inverter
    if supply is not None and minutes >= LONG_MIN and FOR_HOURS < carried.amps / carried.limit_A <= 1.0:
        told = {"supply": supply.name, "amps": carried.amps, "most_A": FOR_HOURS * carried.limit_A}
        yield Reason("run: long on the breaker", told)
    if inverter is not None and carried.inverter_W > 0:
        if supply is None and aboard.inverter_W is None:
            yield Reason("run: inverter does not tell", {"inverter": inverter.name})
        if MOTOR_STARTS * watts > inverter.most_W:
            told = {"inverter": inverter.name, "most_W": inverter.most_W, "times": MOTOR_STARTS}
            yield Reason("run: a motor may not start", told)
    if not dc:
        yield Reason("run: care")
