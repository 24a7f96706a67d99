"""The energy scenarios: what happens in each, for several seeds, and what the buses say meanwhile."""

from datetime import UTC, datetime
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from monitor.records import Frame
from simulators.scenario import Fault
from simulators.voyage import Voyage
from tests.simulators.test_voyage import column, heard

START_S = datetime(2026, 10, 1, tzinfo=UTC).timestamp()
SEEDS = (1, 2, 3)


def with_bms(name: str, days: float, seed: int) -> tuple[list[dict[str, Any]], list[Frame]]:
    """The truth, and what the BMS says every three seconds."""
    truth: list[dict[str, Any]] = []
    voyage = Voyage(name, seed, START_S, days, 3.0, on_truth=truth.append)
    return truth, [item for item in voyage if isinstance(item, Frame) and not item.extended]


def truth_of(name: str, days: float, seed: int) -> list[dict[str, Any]]:
    return list(Voyage(name, seed, START_S, days).truth())


def utc_s(line: dict[str, Any]) -> float:
    return datetime.fromisoformat(line["time"]).timestamp()


def when(truth: list[dict[str, Any]], event: str) -> list[float]:
    return [utc_s(line) for line in truth if line.get("event") == event]


def lines(truth: list[dict[str, Any]], after_s: float, until_s: float) -> list[dict[str, Any]]:
    return [line for line in truth if "charge_pct" in line and after_s < utc_s(line) <= until_s]


@pytest.mark.parametrize("seed", SEEDS)
def test_the_bms_cuts_while_motoring_and_warns_before(seed: int) -> None:
    """Limits go down and the pre-alarm comes before the contactor opens (ABYC E-13, from secondary
    sources); a high cell is at 3.65 V then (makers' sheets)."""
    truth, frames = with_bms("bms-cut-motoring", 2.6, seed)
    (cut_s,) = when(truth, "cut")
    motoring_s = [utc_s(line) for line in truth if line.get("place") == "motoring"][-1]
    (closes_s,) = when(truth, "contactor closes")
    before = lines(truth, cut_s - 600, cut_s)[-1]
    dark = lines(truth, cut_s, closes_s)
    said = heard(frame for frame in frames if abs(frame.at_s - cut_s) < 1800)
    before_it = [values for at_s, values in said[("Limits", 0)] if at_s < cut_s]
    after_it = [values for at_s, values in said[("Limits", 0)] if at_s > cut_s + 1]
    warned = [at_s for at_s, values in said[("Limits", 0)] if values["PreAlarm"] and at_s < cut_s]
    cells = [values for at_s, values in said[("Cells", 0)] if at_s < cut_s][-1]

    assert 2 * 3600 < cut_s - motoring_s < 8 * 3600
    assert before["bank_A"] > 40
    assert 60 < cut_s - min(warned) < 1800
    assert (before_it[-1]["ChargeLimit"] or 0.0) < 10 < (before_it[0]["ChargeLimit"] or 0.0)
    assert max(v for v in cells.values() if v is not None) == pytest.approx(3.65, abs=0.02)
    assert 20 * 60 < closes_s - cut_s < 3 * 3600
    assert all(line["house_W"] == 0 for line in dark[1:])
    assert dark[-1]["buffer_V"] < 12.8 < before["buffer_V"]
    assert {values["ContactorClosed"] for values in after_it} == {0}


def test_weeks_at_anchor_hold_full_charges_and_nothing_breaks() -> None:
    """Every few days full, as the trade asks of a counted lithium bank; at the top the cells stay within
    100 mV above 3.4 V (an owners' rule of the trade)."""
    truth = truth_of("month-at-anchor", 13, 1)
    fulls = when(truth, "full charge")
    apart = [max(line["cells_V"]) - min(line["cells_V"]) for line in truth if "cells_V" in line]
    tops = [max(line["cells_V"]) for line in truth if "cells_V" in line]

    assert len(fulls) >= 3
    assert max(b - a for a, b in pairwise(fulls)) < 8 * 86400
    assert not when(truth, "cut")
    assert max(apart) < 0.100
    assert max(tops) < 3.60
    assert min(line["charge_pct"] for line in truth if "charge_pct" in line) > 20


@pytest.mark.parametrize("seed", SEEDS[:2])
def test_the_converter_dies_at_night_and_the_buffer_falls_until_morning(seed: int) -> None:
    """A 12 V lead battery at rest: 12.6 V full, 12.2 V half, 11.6 V empty (a published rest table);
    under the navigation's load it stands lower. The house goes on as if nothing were."""
    truth = truth_of("converter-dies-at-night", 2.5, seed)
    (dies_s,), (mended_s,) = when(truth, "converter dies"), when(truth, "converter mended")
    alone = lines(truth, dies_s, mended_s)
    volts = [line["buffer_V"] for line in alone[1:]]

    assert [line["time"][11:16] for line in truth if line.get("event") == "converter dies"] == ["21:30"]
    assert lines(truth, dies_s - 600, dies_s)[0]["buffer_V"] == pytest.approx(13.6)
    assert 12.0 < volts[0] < 12.6
    assert 11.0 < volts[-1] < 11.9
    assert volts[-1] < volts[len(volts) // 2] < volts[0]
    assert all(line["contactor_closed"] and line["bank_V"] > 12.5 for line in alone)
    assert lines(truth, mended_s, mended_s + 4 * 3600)[-1]["buffer_V"] > 12.6
    # Hours left, told line by line, are those it takes at the pace of the whole night (arithmetic).
    first, last = alone[0], alone[-1]
    pct_an_hour = (first["buffer_pct"] - last["buffer_pct"]) / (utc_s(last) - utc_s(first)) * 3600
    told = [line["buffer_hours"] / (line["buffer_pct"] / pct_an_hour) for line in alone]
    assert np.median(told) == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_gauge_lies_at_bedtime_and_the_bank_is_empty_in_the_night(seed: int) -> None:
    """Good percentages before bed, all near zero at half past three: a case told in the trade."""
    truth: list[dict[str, Any]] = []
    said = heard(Voyage("lying-gauge", seed, START_S, 5.4, 60.0, on_truth=truth.append), 127506, 127508)
    bedtime_s = START_S + 4 * 86400 + 21 * 3600  # 23:00 by the ship's clock
    cut_s = when(truth, "cut")[0]
    gauge = next(v["charge"] for at_s, v in said[("dc detail", 0)] if at_s > bedtime_s)
    night = lines(truth, cut_s, cut_s + 3600)

    assert gauge == pytest.approx(60, abs=5)
    assert lines(truth, bedtime_s - 600, bedtime_s)[0]["charge_pct"] < 10
    assert 1.0 < (cut_s - bedtime_s) / 3600 < 6.0
    assert next(line["cause"] for line in truth if line.get("event") == "cut") == "cell low"
    assert all(not line["contactor_closed"] and line["house_W"] == 0 for line in night[1:])
    assert 12.0 < night[-1]["buffer_V"] < 12.7
    # The watch has a chance: a full charge some days before.
    assert any(3 * 86400 < cut_s - full_s < 6 * 86400 for full_s in when(truth, "full charge"))


def test_the_lying_shunt_reads_a_third_of_an_ampere_too_much() -> None:
    """Its steps of 0.1 A and its noise of at most 0.25 A average out over some two hundred readings."""
    truth: list[dict[str, Any]] = []
    said = heard(Voyage("lying-gauge", 1, START_S, 1.5, 600.0, on_truth=truth.append), 127508)
    true_A = {utc_s(line): line["bank_A"] for line in truth if "bank_A" in line}
    read = [(at_s // 600 * 600, v["current"]) for at_s, v in said[("battery status", 0)]]
    apart = [amperes - true_A[at_s] for at_s, amperes in read if at_s in true_A and amperes is not None]

    assert len(apart) > 200
    assert np.median(apart) == pytest.approx(0.35, abs=0.1)


def test_a_cold_bank_is_charged_for_minutes_and_then_cut() -> None:
    """No LFP cell is charged below 0 °C (a module's manual, a maker's sheet of 280 Ah cells)."""
    truth, frames = with_bms("cold-morning", 2.5, 1)
    cuts = [line for line in truth if line.get("event") == "cut"]
    cut_s = utc_s(cuts[0])
    said = heard(frame for frame in frames if -1800 < frame.at_s - cut_s < 600)
    limits = [values for at_s, values in said[("Limits", 0)] if at_s < cut_s]
    amperes = [v["Current"] for at_s, v in said[("Pack", 0)] if cut_s - 300 < at_s < cut_s - 1]
    cold = [min(v["Cell1"], v["Cell2"]) for _, v in said[("Temperatures", 0)]]  # type: ignore[type-var]
    dawns = [line["coldest_C"] for line in truth if "coldest_C" in line and line["time"][11:16] == "06:30"]

    assert {line["cause"] for line in cuts} == {"cold"}
    assert all(values["ChargeLimit"] == 0 for values in limits)
    assert min(a for a in amperes if a is not None) > 5
    assert limits[-1]["PreAlarm"] == 1
    assert -3 < min(c for c in cold if c is not None) < 0
    assert all(-3.5 < dawn < 4 for dawn in dawns[1:])
    assert len(when(truth, "charging off")) >= 1


@pytest.fixture(scope="module")
def weak_shore() -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """Its truth, and what the supply and the inverter say, by column."""
    truth: list[dict[str, Any]] = []
    said = heard(Voyage("weak-shore", 1, START_S, 3.0, 15.0, on_truth=truth.append), 127503, 127504, 127509)
    shore = said[("ac input", 0)]
    columns = {name: column(shore, name) for name in ("ac voltage", "ac current", "ac power", "power factor")}
    columns["at"] = np.array([at_s for at_s, _ in shore])
    columns["state"] = column(said[("inverter status", 0)], "inverter state")
    columns["output W"] = column(said[("ac output", 0)], "ac power")
    return truth, columns


def test_a_weak_pedestal_sags_at_its_limit_and_its_watts_are_volts_amperes_and_power_factor(
    weak_shore: tuple[list[dict[str, Any]], dict[str, Any]],
) -> None:
    """P = V I cos phi (DOE-HDBK-1011, volume 3); the limit is one of amperes, not of watts."""
    truth, shore = weak_shore
    before = shore["at"] < when(truth, "input limit set")[0]
    live = shore["ac voltage"] > 0
    loaded = before & (shore["ac current"] > 9.5)

    assert shore["ac current"][before].max() <= 10.05
    assert loaded.sum() > 100
    assert np.median(shore["ac voltage"][loaded]) == pytest.approx(206, abs=2)
    apparent_VA = shore["ac voltage"] * shore["ac current"]
    assert shore["ac power"][live] == pytest.approx(
        (apparent_VA * shore["power factor"])[live], rel=0.01, abs=15
    )
    helped = [line for line in truth if line.get("help_W", 0) > 500]
    assert helped
    assert all(line["bank_A"] < -20 for line in helped)


def test_a_breaker_trips_where_more_is_taken_than_it_carries(
    weak_shore: tuple[list[dict[str, Any]], dict[str, Any]],
) -> None:
    """Above 1.13 times its rating a breaker may let go, above 1.45 times it does within the hour
    (IEC 60898-1, from memory). Behind it there is nothing, and the inverter works from the bank."""
    truth, shore = weak_shore
    (trips_s,), (reset_s,) = when(truth, "breaker trips"), when(truth, "breaker reset")
    last = shore["ac current"][(shore["at"] > trips_s - 600) & (shore["at"] < trips_s)]
    dead = (shore["at"] > trips_s) & (shore["at"] < reset_s)

    assert last.max() > 11.3
    assert (shore["ac voltage"][dead] == 0).all()
    assert (shore["ac current"][dead] == 0).all()
    assert min(line["bank_A"] for line in lines(truth, trips_s, reset_s)) < -100
    assert set(shore["state"]) == {0.0, 1.0}  # inverting, passing through


def test_a_fading_bank_is_full_at_less_than_its_label_and_seen_at_its_low_knee() -> None:
    """78 % of 460 Ah: between a full charge and the low knee (below 10 % a cell rests under 3.18 V by
    the laboratory's table) the shunt counts no more than the cells hold."""
    truth = truth_of("fading-bank", 10.7, 3)
    fulls = when(truth, "full charge")
    lows = [line for line in truth if "charge_pct" in line and line["charge_pct"] < 10]

    assert len(fulls) >= 3
    assert lows
    assert not when(truth, "cut")
    assert min(min(line["cells_V"]) for line in lows) < 3.18
    whole_Wh = [line["left_Wh"] / line["charge_pct"] * 100 for line in truth if "left_Wh" in line]
    assert np.mean(whole_Wh) / 12.8 == pytest.approx(0.78 * 460, rel=0.02)


def test_a_stuck_shunt_says_one_thing_and_can_be_freed() -> None:
    faults = (Fault(0.55, "shunt sticks"), Fault(0.6, "shunt freed"))
    voyage = Voyage("quiet-anchorage", 1, START_S, 0.7, 60.0)
    voyage.scenario = voyage.scenario._replace(faults=faults)
    truth: list[dict[str, Any]] = list(voyage.truth())
    (sticks_s,), (freed_s,) = when(truth, "shunt sticks"), when(truth, "shunt freed")
    read = [(at_s, v["current"]) for at_s, v in heard(voyage, 127508)[("battery status", 0)]]

    assert len({amperes for at_s, amperes in read if sticks_s < at_s < freed_s}) == 1
    assert len({amperes for at_s, amperes in read if at_s > freed_s}) > 5
