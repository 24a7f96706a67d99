"""Temperatures of the cells that harm them: charged in the cold, hot, or one hotter than the others."""

from statistics import median

from monitor.estimation.bank_minute import BankMinute, Placed
from monitor.records import Finding, Reason, Severity
from monitor.settings import Bank

CHARGING_SHARE = 0.01
"""Of the capacity in Ah: more current than this is a charge."""
SENSOR_C = 2.0
"""What a sensor may be off. Common practice."""
COLD_WARNING_C = 5.0
"""Above the limit: below it makers allow a tenth of the capacity at most."""
HOT_WARNING_C = 5.0
APART_C = 8.0
"""One cell so much hotter than the others under current: a loose joint, or a failing cell.
Common practice."""
CURRENT_SHARE = 0.05
"""Of the capacity in Ah: with less current a joint does not show."""
DEADBAND_C = 1.0


def cold_charging(bank: Bank, minute: BankMinute, lately_A: float | None) -> Finding:
    """A lithium cell charged below freezing plates metal: a harm that never heals, and a danger.

    A sensor that is missing may sit on the coldest cell: then it is unknown, not well. `lately_A` is the
    most that flowed in during the last quarter of an hour: between two clouds it is not over.
    """
    coldest, current_A = minute.warmth.coldest, minute.current_A
    told = {"bank": bank.name, "current_A": current_A, "limit_C": bank.cold_C, **_placed(coldest)}
    charging = _above(current_A, CHARGING_SHARE * bank.capacity_Ah)
    charged = _above(lately_A, CHARGING_SHARE * bank.capacity_Ah)
    above_C = None if coldest is None else coldest.value - bank.cold_C
    cold = _below(above_C, COLD_WARNING_C, minute.warmth.missing)
    warm = _below(above_C, COLD_WARNING_C + DEADBAND_C, minute.warmth.missing)
    frozen = above_C is not None and above_C < SENSOR_C
    return Finding(
        "cold charging",
        bank.name,
        _both(charging, cold),
        _not(_both(charged, warm)),
        Reason("alert: cold charging" if coldest is not None else "alert: cell temperature unknown", told),
        Severity.ALARM if frozen and charging else None,
    )


def hot_cells(bank: Bank, minute: BankMinute) -> Finding:
    """Near the limit of the BMS, or one cell well hotter than the others while current flows."""
    hottest = minute.warmth.hottest
    told = {"bank": bank.name, "limit_C": bank.hot_C, **_placed(hottest)}
    if hottest is None:
        return Finding("hot cells", bank.name, None, None, Reason("alert: cell temperature unknown", told))
    apart_C = _apart_C(bank, minute)
    warning_C = bank.hot_C - HOT_WARNING_C
    reason = Reason("alert: hot cells", told)
    if hottest.value <= warning_C and apart_C > APART_C:
        reason = Reason("alert: one cell hot", {**told, "apart_C": apart_C})
    hot = hottest.value > warning_C or apart_C > APART_C
    cool = hottest.value <= warning_C - 2 * DEADBAND_C and apart_C <= APART_C - 2 * DEADBAND_C
    unseen = minute.warmth.missing
    return Finding(
        "hot cells",
        bank.name,
        True if hot else None if unseen else False,
        False if not cool else None if unseen else True,
        reason,
        Severity.ALARM if hottest.value > bank.hot_C else None,
    )


def _apart_C(bank: Bank, minute: BankMinute) -> float:
    """How much hotter the hottest is than the others, while a current flows that can show it."""
    sensors = sorted(sensor.value for sensor in minute.warmth.sensors)
    current_A = minute.current_A
    if len(sensors) < 2 or current_A is None or abs(current_A) < CURRENT_SHARE * bank.capacity_Ah:
        return 0.0
    return sensors[-1] - median(sensors[:-1])


def _placed(sensor: Placed | None) -> dict[str, object]:
    return {} if sensor is None else {"cell": sensor.where, "warmth_C": sensor.value}


def _below(value: float | None, limit: float, missing: bool) -> bool | None:
    """What is known to be below is; that nothing is below is known only where all were heard."""
    if value is not None and value < limit:
        return True
    return None if value is None or missing else False


def _above(value: float | None, limit: float) -> bool | None:
    return None if value is None else value > limit


def _both(a: bool | None, b: bool | None) -> bool | None:
    if a is False or b is False:
        return False
    return None if a is None or b is None else True


def _not(a: bool | None) -> bool | None:
    return None if a is None else not a
