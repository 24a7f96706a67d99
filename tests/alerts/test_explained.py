"""Refills that another cause explains are no leak as well, and say so."""

from typing import Any

import pytest

from monitor.records import Estimate, Reason
from monitor.words.say import say
from monitor.words.units import Dress
from tests.alerts.boat import NOW_S, but, estimate, found


def explained(pct: float) -> dict[tuple[str, str], Estimate]:
    reason = Reason("alert: refills explained", {"pump": "pump", "verdict": "check valve leaks back"})
    return {
        ("leak_L_per_h", "pump"): estimate("leak_L_per_h", "pump", 0.8, 0.6),
        ("leak_explained_pct", "pump"): Estimate("leak_explained_pct", "pump", NOW_S, pct, pct, pct, reason),
    }


@pytest.mark.parametrize(
    ("pct", "expected", "told"),
    [
        (0.0, (True, False), "test"),
        (49.0, (True, False), "test"),
        (55.0, (False, False), "alert: refills explained"),
        (95.0, (False, True), "alert: refills explained"),
    ],
)
def test_an_explained_leak_is_held_back(pct: float, expected: Any, told: str) -> None:
    facts = but(verdicts={"pump": ("leak suspected", Reason("test"))}, estimates=explained(pct))
    finding = found(facts, "leak suspected", "pump")

    assert (finding.holds, finding.clears) == expected
    assert finding.reason.id == told


def test_the_cause_is_named() -> None:
    facts = but(verdicts={"pump": ("leak suspected", Reason("test"))}, estimates=explained(95.0))

    told = say(found(facts, "leak suspected", "pump").reason, Dress())
    assert told == "Not called a leak: check valve leaks back explains why the pump starts."


def test_graver_news_of_the_pump_comes_first() -> None:
    """A burst, a dry pump or a stuck switch is the cause of a long run, not a further alert beside it."""
    under = {rule for rule, _ in found(but(), "pump running on", "pump").under}

    assert {"burst", "pump dry", "pump switch stuck"} <= under
    assert "burst" in {rule for rule, _ in found(but(), "leak suspected", "pump").under}
