"""The scenarios of nights, and the truth about what took how much in them."""

from collections.abc import Iterator
from datetime import UTC, datetime
from functools import cache
from typing import Any

import numpy as np
import pytest

from simulators.boat import INVERTING
from simulators.night_scenarios import NIGHT_SCENARIOS
from simulators.stretch import Floats
from simulators.took import Took
from simulators.voyage import Voyage
from tests.simulators.test_voyage import column, heard

START_S = datetime(2026, 10, 1, tzinfo=UTC).timestamp()
DAYS = {
    "first-night": 1.4, "new-freezer": 7.4, "inverter-left-on": 3.4, "busy-evening": 5.4,
    "alongside-night": 5.4, "bms-cut-motoring": 2.6, "weak-shore": 1.6, "passage": 1.2,
}  # fmt: skip
MINUTE_S, HOUR_S, DAY_S = 60, 3600, 86400


def at(day: float, hour: float) -> float:
    """UTC of an hour of the ship's clock, two hours ahead of it."""
    return START_S + day * DAY_S + (hour - 2) * HOUR_S


class Lived:
    """The truth of a life, and what went over the house's bus."""

    def __init__(self, name: str) -> None:
        self.truth: list[dict[str, Any]] = []
        self.places: set[str] = set()
        self.inverter: list[tuple[float, Floats]] = []
        supplied_W: list[Floats] = []
        bank_A: list[Floats] = []

        def stretches() -> Iterator[tuple[float, dict[str, Floats]]]:
            for one in Voyage(name, 3, START_S, DAYS[name]).stretches():
                self.truth += one.truth
                self.places.add(one.conditions.place)
                self.inverter.append((one.start_s, one.inverter))
                e = one.electrics
                supplied_W.append(e.sun_W + e.alternator_W + e.charger_W - e.bank_V * e.bank_A)
                bank_A.append(e.bank_A)
                yield one.start_s, one.took

        self.took = Took(stretches())
        self.nights = [line for line in self.truth if "night_from" in line]
        self.supplied_W, self.bank_A = np.concatenate(supplied_W), np.concatenate(bank_A)


@cache
def lived(name: str) -> Lived:
    return Lived(name)


def moment(text: str) -> float:
    return datetime.fromisoformat(text).timestamp()


@pytest.mark.parametrize("name", DAYS)
def test_what_was_taken_is_what_was_made_less_what_went_into_the_bank(name: str) -> None:
    """Conservation at the house's bus, second by second, to a milliwatt; and nobody gives."""
    life = lived(name)
    seconds = len(life.supplied_W)
    took = np.array([life.took.watts(what, START_S, seconds) for what in life.took.whats])

    # Single precision keeps 7 digits of some 2 kW.
    assert took.sum(axis=0) == pytest.approx(life.supplied_W, abs=2e-3)
    assert took.min() > -1e-3
    for night in life.nights:
        begin_s, end_s = moment(night["night_from"]), moment(night["night_to"])
        own = {what: life.took.Wh_by(what, begin_s, end_s) for what in life.took.whats}
        assert sum(night["by_Wh"].values()) == pytest.approx(night["used_Wh"], abs=0.02)
        assert own == pytest.approx({what: night["by_Wh"].get(what, 0.0) for what in own}, abs=0.01)


def test_watt_hours_of_spans_add_up_and_split_a_second() -> None:
    """30 W for half a second and 60 W for a whole one: 75 J."""
    took = Took([(100.0, {"lamp": np.array([10.0, 30.0])}), (102.0, {"lamp": np.array([60.0, 0.0])})])

    assert took.Wh_by("lamp", 101.5, 103.0) == pytest.approx(75 / 3600)
    assert took.Wh_by("lamp", 0.0, 200.0) == pytest.approx(100 / 3600)
    assert took.Wh_by("oven", 0.0, 200.0) == 0
    assert took.watts("lamp", 101.0, 4).tolist() == [30.0, 60.0, 0.0, 0.0]
    assert took.watts("lamp", 98.0, 4).tolist() == [0.0, 0.0, 10.0, 30.0]


def test_behind_an_open_contactor_nobody_takes_anything() -> None:
    life = lived("bms-cut-motoring")
    cut_s = next(moment(line["time"]) for line in life.truth if line.get("event") == "cut")

    assert sum(life.took.Wh_by(what, cut_s + 5, cut_s + 600) for what in life.took.whats) < 1e-6
    assert sum(life.took.Wh_by(what, cut_s - 600, cut_s) for what in life.took.whats) > 3


def test_alongside_mains_take_from_the_bank_only_what_the_shore_cannot_carry() -> None:
    """The pedestal gives 10 A; a fan heater and an oven ask for 3.3 kW in the evening."""
    life = lived("weak-shore")

    assert life.took.Wh_by("laptop", at(0, 10), at(0, 12)) < 1
    assert life.took.Wh_by("oven", at(0, 18.5), at(0, 21)) > 100


def test_the_first_night_is_at_anchor_from_the_beginning() -> None:
    """No shore, no engine, no hose before the first night; one place in all."""
    life = lived("first-night")
    begin_s, end_s = moment(life.nights[0]["night_from"]), moment(life.nights[0]["night_to"])
    events = [line["event"] for line in life.truth if "event" in line and moment(line["time"]) < end_s]

    assert life.places == {"at anchor"}
    assert begin_s - START_S < 24 * HOUR_S
    assert set(events) == {"place", "pump run"}
    assert 250 < life.took.Wh_by("freezer", START_S, START_S + DAY_S) < 700
    assert min(line["charge_pct"] for line in life.truth if "charge_pct" in line) > 40


def test_a_new_freezer_takes_the_old_ones_place_with_another_power() -> None:
    """82 W for 58, and as much energy a day, because the box is the same."""
    life = lived("new-freezer")
    replaced_s = at(6, 11)
    (event,) = [line for line in life.truth if line.get("event") == "freezer replaced"]
    old = life.took.watts("freezer", START_S, round(7.4 * DAY_S))
    new = life.took.watts("new freezer", START_S, round(7.4 * DAY_S))
    second = round(replaced_s - START_S)

    assert moment(event["time"]) == replaced_s
    assert old[second:].max() == 0
    assert new[:second].max() == 0
    assert np.median(old[old > 20]) == pytest.approx(58, rel=0.03)
    assert np.median(new[new > 20]) == pytest.approx(82, rel=0.03)
    before, after = (
        life.took.Wh_by(what, from_s, from_s + 20 * HOUR_S)
        for what, from_s in (("freezer", replaced_s - DAY_S), ("new freezer", replaced_s))
    )
    assert after == pytest.approx(before, rel=0.12)


def test_an_inverter_left_on_idles_all_night_with_an_adaptor_behind_it() -> None:
    """Its own 11 W and 7 W at 90 %: 18.8 W more through seven hours of sleep than the night before."""
    life = lived("inverter-left-on")
    (event,) = [line for line in life.truth if line.get("event") == "inverter left on"]
    spans = [(at(day, 23.5), at(day + 1, 6.5)) for day in (1, 2)]
    more_Wh = [life.took.Wh_by("inverter", *span) + life.took.Wh_by("wall adaptor", *span) for span in spans]
    asleep = [state for start_s, state in life.inverter if at(3, 0) <= start_s < at(3, 5)]

    assert moment(event["time"]) == at(2, 21.5)
    assert more_Wh == pytest.approx([0, 18.8 * 7], abs=0.2)
    assert set(np.concatenate(asleep)) == {INVERTING}


def test_a_left_on_inverter_tells_its_state_and_output_on_the_bus() -> None:
    """The output's message counts watts in whole ones: the adaptor's 7."""
    said = heard(Voyage("inverter-left-on", 3, START_S, 3.1, 60.0), 127504, 127509)
    asleep = [
        (values["ac power"], at_s)
        for name, rows in said.items()
        for at_s, values in rows
        if "ac power" in values and at(2, 24) < at_s < at(2, 27)
    ]

    assert len(asleep) > 100
    assert np.median([watts for watts, _ in asleep if watts is not None]) == pytest.approx(7, abs=1)


def test_on_busy_evenings_many_loads_overlap() -> None:
    """At least eight at a time besides what is never off; the night before, no more than that."""
    life = lived("busy-evening")
    never_off = ("standing", "navigation", "anchor light", "inverter")

    def most_at_once(day: int) -> int:
        switched = [what for what in life.took.whats if what not in never_off]
        powers = np.array([life.took.watts(what, at(day, 20), 3 * HOUR_S) for what in switched])
        return int((powers > 0.5).sum(axis=0).max())

    assert most_at_once(4) >= 9
    assert most_at_once(4) >= most_at_once(3) + 3
    for what in ("deck lamps", "cockpit lamps", "music", "galley fan", "hob", "kettle"):
        assert life.took.Wh_by(what, at(4, 18), at(5, 1)) > 5
        assert life.took.Wh_by(what, at(3, 18), at(4, 1)) == 0
    assert life.nights[4]["used_Wh"] > life.nights[3]["used_Wh"] + 400


def test_alongside_the_charger_carries_the_night_and_the_bank_rests() -> None:
    """What is made is what is used, to a few per cent; from the bank no more than an ampere for an hour."""
    life = lived("alongside-night")
    at_anchor, alongside = life.nights[3], life.nights[4]
    begin, end = (round(moment(alongside[name]) - START_S) for name in ("night_from", "night_to"))

    assert at_anchor["made_Wh"] < 0.01 * at_anchor["used_Wh"]
    assert alongside["made_Wh"] == pytest.approx(alongside["used_Wh"], rel=0.03)
    assert abs(life.bank_A[begin:end].mean()) < 0.1
    assert "inverter" not in alongside["by_Wh"]
    assert "anchor light" not in alongside["by_Wh"]
    assert alongside["by_Wh"]["fridge"] == pytest.approx(at_anchor["by_Wh"]["fridge"], rel=0.25)


def test_the_shunt_hears_the_steps_of_the_truth() -> None:
    """A freezer's start in the small hours, as the instrument tells it in steps of 0.1 A every second."""
    truth = Voyage("first-night", 3, START_S, 1.2).took()
    said = heard(Voyage("first-night", 3, START_S, 1.2), 127508)[("battery status", 0)]
    times, amps = np.array([t for t, _ in said]), column(said, "current")
    freezer = truth.watts("freezer", START_S, round(1.2 * DAY_S))
    starts = [
        n for n in np.flatnonzero((freezer[1:] > 1) & (freezer[:-1] == 0)).tolist()
        if at(1, 1) < START_S + n < at(1, 5)
    ]  # fmt: skip
    steps = [
        amps[(times > START_S + n + 10) & (times < START_S + n + 40)].mean()
        - amps[(times > START_S + n - 30) & (times < START_S + n - 1)].mean()
        for n in starts
    ]

    assert len(starts) >= 3
    assert np.median(steps) == pytest.approx(-58 * 1.07 / 13.1, abs=0.25)


def test_every_night_scenario_is_known_by_its_title() -> None:
    assert set(NIGHT_SCENARIOS) <= set(DAYS)
    assert all(row.title for row in NIGHT_SCENARIOS.values())
