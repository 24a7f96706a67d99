"""The water scenarios: what physics lets the buses tell in each, and that no litre goes astray.

Times of the scenarios are the ship's, two hours before UTC's in early October. Night visits and late
dishes of a seeded household stand in the runs: the tolerances make room for them.
"""

import json
import math
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray

from monitor.records import Message
from monitor.settings_file import parse_settings
from simulators.accumulator import Accumulator
from simulators.heater import density_kg_per_m3
from simulators.household import Household
from simulators.scenarios import SCENARIOS
from simulators.voyage import Voyage
from simulators.water_scenarios import WATER_SCENARIOS
from tests.simulators.test_stories import START_S, utc_s, when
from tests.simulators.test_voyage import Heard, heard, pump_edges

Floats = NDArray[np.float64]
DAYS = {
    "weeping-fitting": 2.9, "tap-left-open": 2.8, "flat-accumulator": 6.6, "waterlogged-accumulator": 3.4,
    "cooling-heater": 3.2, "heater-and-drip": 3.2, "leak-and-guests": 4.4, "air-lock": 2.8,
    "stuck-pressure-switch": 2.8, "clamp-off-under-way": 2.9, "heater-hose": 3.2, "filling-forgotten": 4.6,
    "winter-laid-up": 5.0, "pump-wire-off": 2.8, "watermaker": 2.7,
}  # fmt: skip
FLOW_L_PER_S = 11 / 60
REFILL_L = Accumulator().drawdown_L(1.4, 2.8)
INSTANCES = {"forward": 0, "midship": 1}
GROUPS = (127488, 127501, 127505, 127751, 130314, 130316, 130567)


def at(day: int, hour: float) -> float:
    """UTC of an hour by the ship's clock."""
    return START_S + 86400 * day + 3600 * (hour - 2)


class Lived(NamedTuple):
    """A voyage of seed 1: its truth, and what its buses said once a minute (the pump's edges exactly)."""

    truth: list[dict[str, Any]]
    said: Heard
    heater: Floats
    """Rows of time, temperature, element on."""

    def states(self, from_s: float, until_s: float) -> list[dict[str, Any]]:
        return [line for line in self.truth if "water" in line and from_s <= utc_s(line) <= until_s]

    def gained(self, name: str, from_s: float, until_s: float) -> float:
        """How much a sum of water grew between these times. [L]"""
        states = self.states(from_s, until_s)
        return float(states[-1]["water"][name] - states[0]["water"][name])

    def runs(self, from_s: float, until_s: float) -> Floats:
        """Start and length of every run that the switch bank told."""
        edges = pump_edges(self.said)
        pairs = [(a, b - a) for (a, on), (b, _) in pairwise(edges) if on]
        return np.array([pair for pair in pairs if from_s <= pair[0] < until_s]).reshape(-1, 2)

    def pumped_L(self, from_s: float, until_s: float) -> float:
        return float(self.runs(from_s, until_s)[:, 1].sum() * FLOW_L_PER_S)

    def read(self, message: str, instance: int, name: str, from_s: float, until_s: float) -> Floats:
        rows = [v[name] for at_s, v in self.said[(message, instance)] if from_s <= at_s < until_s]
        return np.array([np.nan if v is None else v for v in rows])

    def bar(self, from_s: float, until_s: float) -> Floats:
        return self.read("pressure", 0, "pressure", from_s, until_s)

    def amperes(self, from_s: float, until_s: float) -> Floats:
        """The pump's current while it runs."""
        amperes = self.read("dc point", 5, "current", from_s, until_s)
        return amperes[amperes > 1]

    def level_L(self, tank: str, around_s: float) -> float:
        """The midship tank is a box of 260 L: the mean of forty minutes of its sender."""
        assert tank == "midship"
        read = self.read("fluid level", INSTANCES[tank], "level", around_s - 1200, around_s + 1200)
        return float(np.mean(read)) * 2.6


@cache
def lived(name: str) -> Lived:
    truth: list[dict[str, Any]] = []
    days = DAYS.get(name, 2.4)
    items = list(Voyage(name, 1, START_S, days, 60.0, on_truth=truth.append))
    told = [item for item in items if isinstance(item, Message) and item.topic == "marram/heater"]
    rows = [(m.at_s, json.loads(m.payload)) for m in told]
    heater = [(at_s, v["water"]["temperature"], float(v["element"] == "on")) for at_s, v in rows]
    return Lived(truth, heard(items, *GROUPS), np.array(heater))


def assert_no_litre_is_astray(truth: list[dict[str, Any]]) -> None:
    """Stored at the end = stored at the beginning + filled + swelled - drawn - leaked - relieved."""
    states = [line for line in truth if "water" in line]
    first, last = states[0], states[-1]
    grew = {name: last["water"][name] - first["water"][name] for name in first["water"]}
    stored = sum(last["tanks"].values()) - sum(first["tanks"].values()) + grew["held_L"]
    gone = grew["drawn_L"] + grew["leaked_L"] + grew["above_L"] + grew["relieved_L"]
    assert stored == pytest.approx(grew["filled_L"] + grew["swelled_L"] - gone, abs=0.005)
    tanks = sum(last["tanks"].values()) - sum(first["tanks"].values())
    assert tanks == pytest.approx(grew["filled_L"] - grew["taken_L"] - grew["above_L"], abs=0.005)


@pytest.mark.parametrize("name", [name for name in WATER_SCENARIOS if name != "clogging-strainer"])
def test_in_every_water_scenario_what_came_in_went_out_or_is_there(name: str) -> None:
    assert_no_litre_is_astray(lived(name).truth)


@pytest.mark.parametrize("name", [name for name in SCENARIOS if name not in WATER_SCENARIOS])
def test_in_every_other_scenario_too(name: str) -> None:
    assert_no_litre_is_astray(list(Voyage(name, 2, START_S, 1.1).truth()))


@pytest.mark.parametrize(
    ("name", "L_per_h", "from_s", "until_s"),
    [
        ("weeping-fitting", 0.1, at(1, 20.5), at(2, 20.5)),
        ("dripping-tap", 1.0, at(1, 23.0), at(2, 7.0)),
        ("heater-and-drip", 0.2, at(2, 21.5), at(3, 6.5)),
        ("leak-and-guests", 0.3, at(3, 22.5), at(4, 6.5)),
        ("leak-under-sail", 0.8, at(1, 20.5), at(2, 9.0)),
    ],
)
def test_a_leak_after_the_pump_is_pumped_with_what_is_drawn(
    name: str, L_per_h: float, from_s: float, until_s: float
) -> None:
    """Litres by run seconds = drawn + leaked - swelled, within a refill at either end and the hundredth by
    which the switch scatters."""
    life = lived(name)
    leaked = life.gained("leaked_L", from_s, until_s)
    others = life.gained("drawn_L", from_s, until_s) - life.gained("swelled_L", from_s, until_s)
    others += life.gained("relieved_L", from_s, until_s)

    assert leaked == pytest.approx(L_per_h * (until_s - from_s) / 3600, rel=0.03)
    assert life.pumped_L(from_s, until_s) == pytest.approx(leaked + others, abs=REFILL_L + 0.05)


@pytest.mark.parametrize(
    ("name", "L_per_h", "night"),
    [("dripping-tap", 1.0, 2), ("leaking-check-valve", 0.6, 2), ("leak-and-guests", 0.3, 4)],
)
def test_in_the_small_hours_the_pump_refills_alone_as_often_as_the_leak_says(
    name: str, L_per_h: float, night: int
) -> None:
    """Every 0.337 L / q, for 0.337 L / 11 L/min = 1.84 s each (Boyle, arithmetic)."""
    runs = lived(name).runs(at(night, 1.0), at(night, 6.0))
    alone = runs[np.abs(runs[:, 1] - 1.84) < 0.12]

    assert len(alone) >= 0.6 * len(runs)
    assert np.median(np.diff(alone[:, 0])) == pytest.approx(3600 * REFILL_L / L_per_h, rel=0.05)


def test_before_the_pump_the_tank_falls_in_silence() -> None:
    """1.5 L/h for six hours are 9 L that no run accounts for; the sender drifts by 0.3 L."""
    life = lived("leak-above-pump")
    from_s, until_s = at(2, 0.5), at(2, 6.5)
    fallen = life.level_L("midship", from_s) - life.level_L("midship", until_s)

    assert fallen - life.pumped_L(from_s, until_s) == pytest.approx(9.0, abs=1.2)
    assert life.pumped_L(from_s, until_s) < 3
    assert life.gained("leaked_L", from_s, until_s) == 0


def test_through_the_check_valve_it_is_pumped_and_comes_back() -> None:
    """Eight hours at 0.6 L/h: 4.8 L of runs that the tank never misses."""
    life = lived("leaking-check-valve")
    from_s, until_s = at(1, 22.5), at(2, 6.5)
    fallen = life.level_L("midship", from_s) - life.level_L("midship", until_s)

    assert life.pumped_L(from_s, until_s) - fallen == pytest.approx(4.8, abs=1.2)
    assert life.gained("returned_L", from_s, until_s) == pytest.approx(4.8, abs=0.1)


def test_a_flat_accumulator_makes_runs_shorter_by_the_day() -> None:
    """With 45 % of the gas a refill is 0.45 x 1.84 s, and so many more of them."""
    life = lived("flat-accumulator")
    sound, flat = life.runs(at(0, 12), at(1, 11)), life.runs(at(6, 6), at(6, 15))

    assert sound[:, 1].min() > 1.7
    assert flat[:, 1].min() == pytest.approx(0.45 * 1.84, rel=0.08)
    starts_a_litre = [len(runs) / (runs[:, 1].sum() * FLOW_L_PER_S) for runs in (sound, flat)]
    assert starts_a_litre[1] > 1.4 * starts_a_litre[0]


def test_a_waterlogged_accumulator_makes_the_pump_stutter() -> None:
    """A tenth of the air: refills of 0.18 s, and several starts for one tap that made one before."""
    life = lived("waterlogged-accumulator")
    before, after = life.runs(at(1, 11.5), at(2, 11.0)), life.runs(at(2, 11.5), at(3, 11.0))

    assert after[:, 1].min() == pytest.approx(0.184, rel=0.1)
    assert len(after) > 5 * len(before)
    taken = life.gained("taken_L", at(2, 11.5), at(3, 11.0))
    assert after[:, 1].sum() * FLOW_L_PER_S == pytest.approx(taken, abs=0.1)


def test_a_weeping_relief_valve_holds_the_pressure_down_while_the_heater_heats() -> None:
    """3.2 bar is above the cut-out and below what swelling made of it the day before."""
    life = lived("weeping-relief-valve")
    (weeps_s,) = when(life.truth, "relief valve weeps")
    states = life.states(weeps_s, at(2, 11))
    wept = [utc_s(b) for a, b in pairwise(states) if b["water"]["relieved_L"] > a["water"]["relieved_L"]]
    engine = list(
        zip(when(life.truth, "engine starts"), [*when(life.truth, "engine stops"), math.inf], strict=False)
    )

    assert life.bar(at(0, 8), weeps_s).max() > 4
    assert life.bar(weeps_s + 60, at(2, 11)).max() == pytest.approx(3.2, abs=0.03)
    assert life.gained("relieved_L", weeps_s, at(2, 11)) > 0.2
    assert wept
    assert all(any(on_s < t < off_s + 660 for on_s, off_s in engine) for t in wept)
    assert all(line["leak_L_per_h"] == 0 for line in states)


@pytest.mark.parametrize("night", [1, 2, 3])
def test_a_cooling_heater_draws_in_what_its_water_shrinks_by(night: int) -> None:
    """40 L x the change of density (Kell, as held against IAPWS-95), by the heater as the bus tells it; hot
    water drawn is replaced by cold and shrinks it further."""
    life = lived("cooling-heater")
    from_s, until_s = at(night, 0.5), at(night, 6.0)
    warm, cool = (float(np.interp(t, life.heater[:, 0], life.heater[:, 1])) for t in (from_s, until_s))
    shrunk = 40 * (density_kg_per_m3(cool) / density_kg_per_m3(warm) - 1)
    runs = life.runs(from_s, until_s)
    alone = (np.abs(runs[:, 1] - 1.84) < 0.12).sum()

    assert warm - cool > 4
    assert -life.gained("swelled_L", from_s, until_s) == pytest.approx(shrunk, abs=0.03)
    assert life.gained("leaked_L", from_s, until_s) == 0
    assert alone <= 1 + shrunk / REFILL_L + life.gained("drawn_L", from_s, until_s) / REFILL_L


def test_guests_draw_as_much_as_three_more_do() -> None:
    """What the taps gave that day is what the household's plans for three and for three more say."""
    life, people = lived("leak-and-guests"), Household(1)
    plans = people.day(3, at(3, 0), "at anchor", False).draws + people.guests(3, at(3, 0), 3)
    planned = sum(draw.litres for draw in plans if at(3, 4) <= draw.start_s < at(4, 0) - 600)

    assert when(life.truth, "guests come") == pytest.approx([at(2, 9.6)], abs=1)
    assert life.gained("drawn_L", at(3, 4), at(4, 0)) == pytest.approx(planned, rel=0.06)


def test_under_sail_the_senders_lean_and_the_pump_tells_the_leak_all_the_same() -> None:
    """Twelve degrees and 0.12 m off the middle of 0.55 m: 4.6 % of the tank (arithmetic)."""
    life = lived("leak-under-sail")
    leant = [
        abs(life.level_L("midship", at(2, h)) - state["tanks"]["midship"])
        for h in (1.0, 3.0, 5.0)
        for state in life.states(at(2, h) - 1, at(2, h) + 1)
    ]
    noise = life.read("fluid level", 1, "level", at(2, 0), at(2, 5))

    assert np.median(leant) == pytest.approx(0.046 * 260, rel=0.35)
    assert np.std(np.diff(noise)) > 1.5


def test_an_open_tap_makes_the_pump_cycle_and_the_tank_fall_at_the_taps_rate() -> None:
    """Qp 11, tap 2.5 L/min: on for 0.337/8.5 min, off for 0.337/2.5 min, one cycle every 10.5 s."""
    life = lived("tap-left-open")
    (opens_s,), (shut_s,) = when(life.truth, "tap left open"), when(life.truth, "leak ends")
    runs = life.runs(opens_s + 30, shut_s - 30)

    assert shut_s - opens_s == pytest.approx(48 * 60, abs=1)
    assert np.median(np.diff(runs[:, 0])) == pytest.approx(10.5, rel=0.03)
    assert life.gained("leaked_L", opens_s, shut_s + 600) == pytest.approx(120, abs=0.5)


def test_an_air_lock_runs_on_at_little_current_without_pressure_and_moves_nothing() -> None:
    """40 to 70 % of the usual current (common practice); the level stays within the sender's drift."""
    life = lived("air-lock")
    off_s = when(life.truth, "pump switched off")[0]
    edges = [t for t, on in pump_edges(life.said) if on and t < off_s]
    from_s = edges[-1] + 120

    assert off_s - from_s > 1800
    usual_A = np.median(life.amperes(START_S, at(2, 6)))
    assert 0.4 <= np.median(life.amperes(from_s, off_s - 60)) / usual_A <= 0.7
    assert life.bar(from_s, off_s - 60).max() < 1.4
    assert life.gained("taken_L", from_s + 600, off_s - 60) == 0
    assert life.runs(at(2, 11.3), at(2, 20))[:, 1].max() < 120


def test_a_stuck_switch_labours_on_at_much_current_above_the_cut_out() -> None:
    life = lived("stuck-pressure-switch")
    (sticks_s,), off_s = when(life.truth, "pressure switch sticks"), when(life.truth, "pump switched off")[0]
    from_s = next(t for t, on in pump_edges(life.said) if on and t > sticks_s) + 300
    bars = life.bar(from_s, off_s - 60)

    assert off_s - from_s > 4 * 3600
    assert np.median(bars) == pytest.approx(4.8, abs=0.02)
    usual_A = life.amperes(START_S, sticks_s)
    assert np.median(life.amperes(from_s, off_s - 60)) > usual_A.max() + 0.5
    gone = life.gained("drawn_L", from_s, off_s) + life.gained("relieved_L", from_s, off_s)
    assert life.gained("taken_L", from_s, off_s) == pytest.approx(gone, abs=REFILL_L)


def test_with_its_wire_off_the_indicator_says_running_and_the_current_tells_the_truth() -> None:
    """Nine hours of one state; meanwhile the pump takes current only in the seconds in which it runs."""
    life = lived("pump-wire-off")
    (off_s,), (mended_s,) = when(life.truth, "pump wire off"), when(life.truth, "pump wire mended")
    said = [v["indicator 1"] for t, v in life.said[("switch bank", 0)] if off_s < t < mended_s]
    amperes = life.read("dc point", 5, "current", off_s, mended_s)
    runs = [line for line in life.truth if line.get("event") == "pump run" and off_s < utc_s(line) < mended_s]

    assert mended_s - off_s == pytest.approx(9 * 3600, abs=1)
    assert set(said) == {1}
    assert len(runs) > 20
    assert (amperes < 0.5).mean() > 0.95
    assert life.bar(off_s, mended_s).min() > 1.35


def test_a_clogging_strainer_makes_the_litres_of_a_pump_minute_fall() -> None:
    """1.6 % of 11 L/min a day, from the truth's own runs and litres."""
    truth = list(Voyage("clogging-strainer", 1, START_S, 11.2).truth())

    def flow_L_per_min(from_s: float, until_s: float) -> float:
        states = [line for line in truth if "water" in line and from_s <= utc_s(line) <= until_s]
        taken = states[-1]["water"]["taken_L"] - states[0]["water"]["taken_L"]
        runs = [x for x in truth if x.get("event") == "pump run" and from_s < utc_s(x) <= until_s]
        return float(taken / sum(run["seconds"] for run in runs) * 60)

    assert flow_L_per_min(at(1, 3), at(5, 3)) == pytest.approx(11.0, rel=0.01)
    assert flow_L_per_min(at(10, 5), at(11, 4)) == pytest.approx(11.0 * (1 - 0.016 * 6), rel=0.01)
    assert_no_litre_is_astray(truth)


def test_a_clamp_off_under_way_empties_a_tank_while_the_engine_runs() -> None:
    """One run without an end, no pressure, 11 L a minute, and the engine turns at 1,800 rpm meanwhile; then
    the pump finds no water."""
    life = lived("clamp-off-under-way")
    (off_s,) = when(life.truth, "hose off")
    full = life.states(off_s - 600, off_s)[-1]["tanks"]
    chosen = max(full, key=full.__getitem__)
    minutes = {"forward": full["forward"] - 8, "midship": full["midship"] - 10}[chosen] / 11
    run = life.runs(off_s - 60, off_s + 600)[-1]
    states = life.states(off_s + 660, off_s + 1260)

    assert when(life.truth, "engine starts")[-1] < off_s
    assert np.median(life.read("engine rapid", 0, "speed", off_s, off_s + 1800)) == pytest.approx(
        1800, abs=20
    )
    assert run[1] > 60 * minutes
    assert life.bar(off_s + 60, off_s + 1200).max() < 0.05
    assert states[0]["tanks"][chosen] - states[-1]["tanks"][chosen] == pytest.approx(
        11 * (utc_s(states[-1]) - utc_s(states[0])) / 60, rel=0.01
    )
    dry_s = off_s + 60 * minutes
    wet_A, dry_A = (
        np.median(life.amperes(a, b)) for a, b in ((off_s + 60, dry_s - 90), (dry_s + 90, dry_s + 1200))
    )
    assert dry_A < 0.8 * wet_A


def test_the_heaters_hose_drips_while_the_heater_is_hot_and_only_then() -> None:
    life = lived("heater-hose")
    (begins_s,) = when(life.truth, "hot hose drips")
    states = life.states(begins_s + 600, at(3, 6))
    hot = [b["leak_L_per_h"] for a, b in pairwise(states) if min(a["heater_C"], b["heater_C"]) > 66]
    cold = [line["leak_L_per_h"] for line in states if line["heater_C"] < 43]

    assert hot == pytest.approx([1.5] * len(hot), abs=0.05)
    assert max(cold) == 0
    assert min(len(hot), len(cold)) > 12
    evening, morning = life.runs(at(2, 23), at(3, 3)), life.runs(at(2, 2), at(2, 6))
    assert len(evening) > len(morning) + 6
    assert np.interp(at(2, 23), life.heater[:, 0], life.heater[:, 1]) > 60


def test_a_forgotten_hose_fills_to_the_brim_and_runs_over() -> None:
    """14 L/min of 260 L are 5.4 % a minute on the sender; what finds no room in 35 minutes runs over."""
    life = lived("filling-forgotten")
    (on_s,), (over_s,) = when(life.truth, "hose on"), when(life.truth, "tank overflows")
    (off_s,) = when(life.truth, "hose off")
    told = next(line for line in life.truth if line.get("event") == "hose off")
    before = life.states(on_s - 600, on_s)[-1]["tanks"]["midship"]
    rising = life.read("fluid level", 1, "level", on_s + 60, over_s - 60)

    assert off_s - on_s == pytest.approx(35 * 60, abs=1)
    assert over_s - on_s == pytest.approx((260 - before) / 14 * 60, abs=15)
    assert np.median(np.diff(rising)) == pytest.approx(14 / 2.6, abs=0.3)
    assert np.median(life.read("fluid level", 1, "level", over_s + 60, off_s)) > 99.5
    assert told["ran_over_L"] == pytest.approx(35 * 14 - (260 - before), abs=3)
    assert life.gained("spilt_L", on_s - 600, off_s + 600) == pytest.approx(told["ran_over_L"], abs=0.1)


def test_laid_up_nobody_draws_and_the_cabin_falls_below_freezing() -> None:
    """Refills stop with the heater's cooling; the cabin's sensor crosses 0 °C; nothing else stirs."""
    life = lived("winter-laid-up")
    from_s, until_s = at(1, 0), at(4, 20)
    cabin = life.read("temperature", 0, "temperature", from_s, until_s)

    assert life.gained("drawn_L", from_s, until_s) == 0
    assert life.gained("leaked_L", from_s, until_s) == 0
    assert len(life.runs(from_s, until_s)) <= 3
    assert cabin[:60].min() > 3
    assert cabin[-60:].max() < 0
    assert not [t for event in ("engine starts", "cut") for t in when(life.truth, event) if t > from_s]
    assert when(life.truth, "place")[-1] < from_s


def test_a_watermaker_says_what_it_makes_and_the_tank_rises_by_it() -> None:
    """30 L/h, and 6 L of fresh water from the taps' side for the flush."""
    life = lived("watermaker")
    starts, stops = when(life.truth, "watermaker starts"), when(life.truth, "watermaker stops")
    told = [line["litres"] for line in life.truth if line.get("event") == "watermaker stops"]
    making = life.read("watermaker", 0, "flow", starts[0] + 60, stops[0] - 60)
    resting = life.read("watermaker", 0, "flow", stops[0] + 60, stops[0] + 3600)

    assert len(stops) >= 2
    assert making == pytest.approx(30.0, rel=0.06)
    assert (resting == 0).all()
    assert life.gained("made_L", START_S, at(2, 14)) == pytest.approx(sum(told), abs=0.5)
    assert life.gained("spilt_L", starts[0] - 600, at(2, 14)) == 0
    flush = life.gained("drawn_L", stops[-1] - 600, stops[-1] + 600)
    assert flush >= 6.0


def test_a_boat_without_a_watermaker_has_none_on_her_bus() -> None:
    assert ("watermaker", 0) not in lived("air-lock").said
    for name in ("air-lock", "watermaker"):
        settings = parse_settings(Voyage(name, 1, START_S, 1).settings_text(), Path())
        fitted = name == "watermaker"
        assert [maker.rated_L_per_h for maker in settings.watermakers] == [30.0] * fitted
        assert [draw.litres for draw in settings.pumps[0].draws] == [6.0] * fitted
