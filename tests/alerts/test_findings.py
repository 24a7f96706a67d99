"""What each rule finds: limits and deadbands as tables.

The limits are the boat's settings; the deadbands are the project's own starting values (0.2 V,
3 % of charge, 0.25 days, 3 % of the tanks: common practice, no source).
"""

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from monitor.alerts.facts import Facts
from monitor.alerts.findings import findings
from monitor.alerts.rules import RULES
from monitor.estimation.water_ahead import WaterAhead
from monitor.pipeline.watchers import watchers
from monitor.records import Reason, Severity, Way
from monitor.settings import Limits
from monitor.settings_file import parse_settings
from simulators.packing import DBC
from simulators.voyage import Voyage
from tests.alerts.boat import WELL, but, estimate, found, reading

HOLDS, CLEARS, BETWEEN, UNKNOWN = (True, False), (False, True), (False, False), (None, None)


def test_all_well_is_nothing_to_tell() -> None:
    """With every instrument speaking and every figure known, every finding is clear."""
    assert [(f.rule, f.subject) for f in findings(WELL) if f.holds is not False or not f.clears] == []


def test_every_rule_is_looked_at() -> None:
    """No row of the table is dead, and nothing is found without a row."""
    marram = Voyage("quiet-anchorage", 1, 0.0, 1.0).settings_text(dbc=str(DBC))
    settings = parse_settings(marram, Path())
    found = [f for w in watchers(settings, WaterAhead(settings)) for f in w.findings()]

    facts = but(ways=(Way("letter", "message"),))
    assert {f.rule for f in (*findings(facts), *found)} == set(RULES)


@pytest.mark.parametrize(
    ("failing_s", "expected"), [(0.0, (False, True)), (3600.0, (False, False)), (3601.0, (True, False))]
)
def test_a_way_out_that_confirms_nothing_for_an_hour_is_dead(failing_s: float, expected: Any) -> None:
    finding = found(but(ways=(Way("letter", "message", failing_s=failing_s),)), "way out dead", "letter")

    assert (finding.holds, finding.clears) == expected


def test_each_situation_is_found_once() -> None:
    keys = [(f.rule, f.subject) for f in findings(WELL)]

    assert len(keys) == len(set(keys))


def volts(value: float | None, bank: str = "house", *, silent: bool = False) -> Facts:
    return but(values={f"{bank} voltage": reading(value, silent=silent)})


# 4 cells of 3.0 V are 12.0 V (trade practice: lithium loads are cut
# at 3.0 V a cell). Severe is 0.1 V a cell further down.
@pytest.mark.parametrize(
    ("facts", "bank", "expected", "urgent"),
    [
        (volts(12.00), "house", BETWEEN, False),
        (volts(11.99), "house", HOLDS, False),
        (volts(11.61), "house", HOLDS, False),
        (volts(11.59), "house", HOLDS, True),
        (volts(12.19), "house", BETWEEN, False),
        (volts(12.20), "house", CLEARS, False),
        (volts(None), "house", UNKNOWN, False),
        (volts(11.0, silent=True), "house", UNKNOWN, False),
    ],
)
def test_low_voltage(facts: Facts, bank: str, expected: tuple[Any, Any], urgent: bool) -> None:
    finding = found(facts, "low voltage", bank)

    assert (finding.holds, finding.clears, finding.urgent) == (*expected, urgent)


@pytest.mark.parametrize(
    ("likely", "low", "warning", "edge"),
    [
        (50, 40, CLEARS, CLEARS),
        (50, 33, CLEARS, CLEARS),
        (50, 32, CLEARS, BETWEEN),
        (50, 29, CLEARS, HOLDS),  # only the low edge is under: not vouched for
        (36, 29, BETWEEN, HOLDS),
        (36, 33, CLEARS, CLEARS),
        (35, 29, HOLDS, BETWEEN),  # within 5 % of the limit and the edge under it
        (35, 30, BETWEEN, BETWEEN),
        (29, 25, HOLDS, BETWEEN),  # the likely value itself
        (None, None, UNKNOWN, UNKNOWN),
    ],
)
def test_charge(likely: float | None, low: float | None, warning: Any, edge: Any) -> None:
    facts = but(estimates={("charge_pct", "house"): estimate("charge_pct", "house", likely, low)})
    low_charge = found(facts, "low charge", "house")
    not_vouched = found(facts, "charge not vouched for", "house")

    assert (low_charge.holds, low_charge.clears) == warning
    assert (not_vouched.holds, not_vouched.clears) == edge


def test_before_the_first_full_only_voltage_and_one_caution() -> None:
    """A count without an anchor accuses nobody, however low it looks."""
    facts = but(
        last_full_s={"house": None},
        estimates={
            ("charge_pct", "house"): estimate("charge_pct", "house", 5, 0),
            ("energy_days", "house"): estimate("energy_days", "house", 0.1, 0.0),
        },
        values={"house voltage": reading(11.0)},
    )

    holding = {f.rule: RULES[f.rule].severity for f in findings(facts) if f.holds}

    assert holding == {"low voltage": Severity.ALARM, "charge unknown": Severity.CAUTION}


def test_a_buffer_bank_is_never_judged_by_its_charge() -> None:
    charge_rules = {"charge unknown", "low charge", "charge not vouched for", "few energy days"}

    assert {f.subject for f in findings(WELL) if f.rule in charge_rules} == {"house"}


@pytest.mark.parametrize(
    ("rule", "name", "subject", "limit"),
    [("few energy days", "energy_days", "house", 1.0), ("few water days", "water_days", "water", 3.0)],
)
def test_days_go_by_the_cautious_one(rule: str, name: str, subject: str, limit: float) -> None:
    """The likely day may be far off: the cautious one is the one to plan on."""
    told = {
        cautious: found(
            but(estimates={(name, subject): estimate(name, subject, 9.0, cautious)}), rule, subject
        )
        for cautious in (limit - 0.01, limit, limit + 0.24, limit + 0.25)
    }

    assert [(f.holds, f.clears) for f in told.values()] == [HOLDS, BETWEEN, BETWEEN, CLEARS]


@pytest.mark.parametrize(
    ("left_L", "expected"),
    [
        # The limit is 60 L of what can be used, the deadband 3 % of 250 L = 7.5 L: the rain's is doubtful.
        (59.9, HOLDS),
        (60.1, BETWEEN),
        (67.4, BETWEEN),
        (67.5, CLEARS),
        (None, UNKNOWN),
    ],
)
def test_low_water(left_L: float | None, expected: Any) -> None:
    finding = found(
        but(estimates={("left_L", "water"): estimate("left_L", "water", left_L, left_L)}),
        "low water",
        "water",
    )

    assert (finding.holds, finding.clears) == expected


@pytest.mark.parametrize(("heads", "limit_L"), [(2, 43.5), (5, 67.5)])
def test_low_water_goes_by_the_heads_aboard(heads: int, limit_L: float) -> None:
    """Half as much again as the reserve: the larger of 9 L a head, 18 or 45, and a tenth of what the tanks
    give, (150 - 10 + 100 + 50) / 10 = 29 L."""
    settings = WELL.settings.model_copy(update={"limits": Limits()})

    finding = found(but(settings=settings, heads=heads), "low water", "water")

    assert finding.reason.facts["limit_L"] == pytest.approx(limit_L)


@pytest.mark.parametrize(
    ("minutes", "fallen_L", "expected", "severity", "told"),
    [
        (7.99, None, CLEARS, None, "alert: pump running on"),
        (8.0, None, HOLDS, None, "alert: pump running on"),
        (15.9, None, HOLDS, None, "alert: pump running on"),
        (16.0, None, HOLDS, Severity.ALARM, "alert: pump running on"),
        # 70 % of 10 L a minute in 9 minutes is 63 L (common practice for a burst hose).
        (9.0, 62.0, HOLDS, None, "alert: pump running on"),
        (9.0, 63.0, HOLDS, Severity.ALARM, "alert: pump emptying a tank"),
        (6.0, 60.0, CLEARS, None, "alert: pump running on"),  # a shower
        (None, None, UNKNOWN, None, "alert: pump running on"),
    ],
)
def test_pump_running_on(
    minutes: float | None, fallen_L: float | None, expected: Any, severity: Severity | None, told: str
) -> None:
    running_s = None if minutes is None else minutes * 60
    finding = found(
        but(running_s={"pump": running_s}, fallen_L={"pump": fallen_L}), "pump running on", "pump"
    )

    assert (finding.holds, finding.clears) == expected
    assert (finding.severity, finding.reason.id) == (severity, told)


@pytest.mark.parametrize(
    ("verdict", "L_per_h", "expected"),
    [
        ("leak suspected", 0.2, HOLDS),  # 4.8 L a day, the limit is 2
        ("leak suspected", 0.05, BETWEEN),  # 1.2 L a day: too small to matter, too sure to be over
        ("leak suspected", None, HOLDS),
        ("tight", None, CLEARS),
        ("not enough known yet", 0.2, UNKNOWN),
    ],
)
def test_leak(verdict: str, L_per_h: float | None, expected: Any) -> None:
    leak = {("leak_L_per_h", "pump"): estimate("leak_L_per_h", "pump", L_per_h, L_per_h)}
    finding = found(
        but(verdicts={"pump": (verdict, Reason("test"))}, estimates=leak), "leak suspected", "pump"
    )

    assert (finding.holds, finding.clears) == expected


def test_a_leak_nobody_has_judged_is_unknown() -> None:
    finding = found(replace(WELL, verdicts={}), "leak suspected", "pump")

    assert (finding.holds, finding.clears) == UNKNOWN


def test_the_clock_and_the_store() -> None:
    facts = but(clock_trusted=False, troubles=(Reason("disk full"), Reason("other")))

    assert found(facts, "clock not confirmed", "clock").holds
    assert found(facts, "store trouble", "store").reason == Reason("disk full")


@pytest.mark.parametrize(("cautious", "grade"), [(2.9, None), (1.0, None), (0.9, Severity.WARNING)])
def test_water_that_ends_within_a_day_is_a_warning_and_a_caution_before(
    cautious: float, grade: Severity | None
) -> None:
    """A grade is a time to respond (IMO A.1021(26)); the day is the project's."""
    finding = found(
        but(estimates={("water_days", "water"): estimate("water_days", "water", cautious + 1, cautious)}),
        "few water days",
        "water",
    )
    assert finding.holds
    assert (finding.severity, RULES["few water days"].severity) == (grade, Severity.CAUTION)
