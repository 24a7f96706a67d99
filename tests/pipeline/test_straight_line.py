"""Whole voyages from frames to estimates, alerts and nights, held against the simulated truth.

The truth is the simulator's, whose physics is held against published figures in tests/simulators.
"""

from datetime import datetime

import pytest

from monitor.records import EventKind
from tests.pipeline.boat import Lived, live

BANDS = {
    # A 90 % band over one voyage whose errors hang together: it must hold nearly all the time.
    ("charge_pct", "house"): 0.9,
    ("left_Wh", "house"): 0.9,
    ("tank_L", "forward"): 0.9,
    ("tank_L", "midship"): 0.9,
}


@pytest.fixture(scope="module")
def quiet() -> Lived:
    return live("quiet-anchorage", 3.0)


def test_bands_hold_the_truth(quiet: Lived) -> None:
    states = quiet.states()
    unusable = {t.name: t.unusable_L for t in quiet.settings.tanks}
    for (name, subject), share in BANDS.items():
        inside = []
        for utc_s, estimate in quiet.told(name, subject).items():
            if estimate.value is None or estimate.low is None or estimate.high is None:
                continue
            state = states[utc_s]
            true = state["tanks"][subject] - unusable[subject] if name == "tank_L" else state[name]
            inside.append(estimate.low <= true <= estimate.high)
        assert len(inside) > 300, name
        assert sum(inside) / len(inside) >= share, (name, subject)


def test_charge_is_unknown_before_the_first_full_and_then_close(quiet: Lived) -> None:
    full_s = quiet.when("full charge")
    for utc_s, estimate in quiet.told("charge_pct", "house").items():
        if utc_s < full_s:
            assert estimate.value is None
            assert estimate.reason.id == "charge unknown until full"
        elif utc_s > full_s + 3 * 3600:
            assert estimate.value == pytest.approx(quiet.states()[utc_s]["charge_pct"], abs=3.0)


def test_a_lead_buffer_has_no_charge(quiet: Lived) -> None:
    assert all(e.value is None for e in quiet.told("charge_pct", "navigation").values())


def test_a_quiet_anchorage_sounds_nothing(quiet: Lived) -> None:
    """But that a tank which the crew fills is nearly full."""
    assert [rule for rule, _ in quiet.shelf.sounded() if rule != "tank nearly full"] == []


def test_every_night_adds_up_and_is_near_the_truth(quiet: Lived) -> None:
    nights = quiet.pipeline.nights(None)
    assert len(nights) >= 2
    for night in nights:
        assert night.used_Wh is not None
        assert night.made_Wh is not None
        assert night.made_Wh - night.used_Wh == pytest.approx(night.net_Wh, abs=1e-6)
        named_Wh = sum(s.Wh for s in night.by if s.what)
        assert named_Wh + (night.unexplained_Wh or 0) == pytest.approx(night.used_Wh)
    compared = 0
    for told in [t for t in quiet.truth if "night_from" in t]:
        dawn_s = datetime.fromisoformat(told["night_to"]).timestamp()
        found = next((n for n in nights if abs(n.end_s - dawn_s) < 300 and n.missing_s < 600), None)
        if found is None:
            continue
        compared += 1
        # The shunt's offset (sd 150 mA) is 13 V x 0.15 A x 12 h = 23 Wh at one sigma.
        assert found.used_Wh == pytest.approx(told["used_Wh"], abs=70)
        # The pump fills the accumulator some time after it was drawn from: within a refill or two.
        assert found.water_L == pytest.approx(told["water_L"], abs=1.5)
    assert compared >= 2


def test_pump_runs_are_events_with_their_own_exact_times(quiet: Lived) -> None:
    runs = [e for e in quiet.shelf.happened if e.kind is EventKind.PUMP_RUN]
    true = [t for t in quiet.truth if t.get("event") == "pump run"]

    assert len(runs) == pytest.approx(len(true), abs=2)
    seconds = sorted(e.end_s - e.start_s for e in runs if e.end_s is not None)
    true_seconds = sorted(t["seconds"] for t in true)
    assert seconds[len(seconds) // 2] == pytest.approx(true_seconds[len(true_seconds) // 2], abs=0.1)


def test_a_slow_leak_is_found_the_first_night_and_its_size_is_right() -> None:
    lived = live("slow-leak", 3.0)
    begins_s = lived.when("leak begins")

    assert ("leak suspected", "pressure pump") in lived.shelf.sounded()
    change = next(c for c in lived.shelf.changes if c.rule == "leak suspected")
    assert begins_s < change.at_s < begins_s + 12 * 3600
    rate = next(e for e in reversed(lived.told("leak_L_per_h", "pressure pump").values()))
    assert rate.value is not None
    assert rate.value == pytest.approx(0.5, rel=0.15)


def test_a_burst_hose_is_an_alarm_before_the_tank_is_empty() -> None:
    lived = live("burst-hose", 2.3)
    burst_s = lived.when("burst")
    alarms = [c for c in lived.shelf.changes if c.severity == "alarm" and c.state == "active"]

    assert alarms[0].rule == "burst"
    assert alarms[0].at_s - burst_s < 120
    assert {c.rule for c in alarms} <= {"burst", "pump dry", "pump running on"}


def test_a_dead_sender_is_told_and_its_tank_is_not_believed_full() -> None:
    lived = live("dead-sender", 6.0, every_s=10.0)
    sticks_s, dies_s = lived.when("sender sticks"), lived.when("sender dies")
    told = lived.told("tank_L", "midship")

    doubted = [utc_s for utc_s, e in told.items() if utc_s > sticks_s and e.reason.id != "tank level"]
    assert doubted[0] < dies_s
    inside = [
        e.low <= lived.states()[utc_s]["tanks"]["midship"] - 10 <= e.high
        for utc_s, e in told.items()
        if utc_s >= doubted[0] and e.low is not None and e.high is not None
    ]
    assert sum(inside) / len(inside) >= 0.9
    silent = [c for c in lived.shelf.changes if c.rule == "instrument silent" and c.state == "active"]
    assert [c.subject for c in silent] == ["midship"]
    assert dies_s < silent[0].at_s < dies_s + 600
