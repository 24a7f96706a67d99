"""The limits that the crew may move, one row a rule: where it stands by itself, and how far it may go.

What a rule does not have here rests on physics or on a judgement, and its limit is not a matter of taste.
"""

from collections.abc import Callable
from dataclasses import dataclass

from monitor.estimation.freezing import CLEARS_K
from monitor.estimation.water_age import DEADBAND_DAYS
from monitor.settings import Settings

CHARGE_DEADBAND_PCT = 3.0
DAYS_DEADBAND = 0.25
VOLTAGE_DEADBAND_V = 0.2
"""Of a 12 V bank, in proportion above."""
WATER_DEADBAND = 0.03
"""Of the capacity. All four are common practice."""
Of = Callable[[Settings, str, int], float]
"""Of the settings, the subject and how many are aboard."""


@dataclass(frozen=True, slots=True)
class Limit:
    rule: str
    unit: str
    below: bool
    """It is told below the limit, else above."""
    stands: Of
    least: Of
    most: Of
    deadband: Of
    of_banks: bool = False
    """Each bank has its own, and nothing else has one."""


def _fixed(value: float) -> Of:
    return lambda settings, subject, heads: value


def _bank_V(per_cell: float, lead_per_cell: float) -> Of:
    def volts(settings: Settings, subject: str, heads: int) -> float:
        bank = next(b for b in settings.banks if b.name == subject)
        return bank.cells * (per_cell if bank.chemistry == "lifepo4" else lead_per_cell)

    return volts


def _low_V(settings: Settings, subject: str, heads: int) -> float:
    return next(b for b in settings.banks if b.name == subject).low_voltage_V


def _volts_apart(settings: Settings, subject: str, heads: int) -> float:
    return VOLTAGE_DEADBAND_V * max(
        1, round(next(b for b in settings.banks if b.name == subject).nominal_V / 12)
    )


def _tanks_L(share: float) -> Of:
    def litres(settings: Settings, subject: str, heads: int) -> float:
        return share * sum(tank.capacity_L for tank in settings.tanks if not tank.doubtful)

    return litres


LIMITS: dict[str, Limit] = {
    limit.rule: limit
    for limit in (
        # A cell of LFP is empty at 2.5 V and harmed below; a lead one at 1.75 V. Common practice.
        Limit("low voltage", "V", True, _low_V, _bank_V(2.7, 1.8), _bank_V(3.25, 2.08), _volts_apart, True),
        Limit(
            "low charge", "%", True, lambda s, n, h: s.limits.low_charge_pct,
            _fixed(5), _fixed(90), _fixed(CHARGE_DEADBAND_PCT),
        ),
        Limit(
            "few energy days", "days", True, lambda s, n, h: s.limits.energy_days,
            _fixed(0.25), _fixed(9), _fixed(DAYS_DEADBAND),
        ),
        Limit(
            "low water", "L", True, lambda s, n, h: s.low_water_for_L(h),
            _fixed(0), _tanks_L(0.9), _tanks_L(WATER_DEADBAND),
        ),
        Limit(
            "few water days", "days", True, lambda s, n, h: s.limits.water_days,
            _fixed(0.5), _fixed(30), _fixed(DAYS_DEADBAND),
        ),
        Limit(
            "pump running on", "min", False, lambda s, n, h: s.limits.pump_run_on_min,
            _fixed(2), _fixed(30), _fixed(0),
        ),
        Limit(
            "leak suspected", "L a day", False, lambda s, n, h: s.limits.leak_L_a_day,
            _fixed(0.5), _fixed(50), _fixed(0),
        ),
        Limit(
            "plumbing may freeze", "°C", True, lambda s, n, h: s.limits.freezing_C,
            _fixed(1), _fixed(10), _fixed(CLEARS_K),
        ),
        Limit(
            "water old", "days", False, lambda s, n, h: s.limits.water_age_days,
            _fixed(3), _fixed(90), _fixed(DEADBAND_DAYS),
        ),
        Limit(
            "source silent", "s", False, lambda s, n, h: s.limits.silent_s or 60.0,
            _fixed(30), _fixed(3600), _fixed(0),
        ),
    )
}  # fmt: skip
