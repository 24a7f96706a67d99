"""Whole voyages: what the buses carry against the truth that was lived."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from monitor.records import Frame, Message
from monitor.settings_file import parse_settings
from monitor.wire.fast_packet import Assembler
from monitor.wire.identifier import split
from monitor.wire.nmea2000 import LAYOUTS
from simulators.packing import bms_layouts
from simulators.scenarios import SCENARIOS
from simulators.voyage import Voyage

START_S = datetime(2026, 10, 1, tzinfo=UTC).timestamp()
HOURS = 12

Heard = dict[tuple[str, float], list[tuple[float, dict[str, float | None]]]]


def heard(items: Iterable[Frame | Message], *numbers: int) -> Heard:
    """Everything said on the CAN buses, or only these groups, decoded, by message name and instance."""
    said: Heard = defaultdict(list)
    assembler = Assembler()
    bms = {layout.number: layout for layout in bms_layouts().values()}
    for item in items:
        if isinstance(item, Message) or (numbers and not item.extended):
            continue
        if not item.extended:
            layout, data = bms[item.can_id], item.data
        else:
            _, pgn, source, _ = split(item.can_id)
            if numbers and pgn not in numbers:
                continue
            layout = LAYOUTS[pgn]
            whole = assembler.feed(item.at_s, source, pgn, item.data) if layout.fast else item.data
            if whole is None:
                continue
            data = whole
        values = dict(zip((f.name for f in layout.fields), layout.decode(data), strict=True))
        said[(layout.name, values.get("instance") or 0)].append((item.at_s, values))
    assert assembler.dropped == 0
    return said


def column(
    said: list[tuple[float, dict[str, float | None]]], name: str
) -> np.ndarray[Any, np.dtype[np.float64]]:
    return np.array([np.nan if values[name] is None else values[name] for _, values in said], dtype=float)


@pytest.fixture(scope="module")
def day() -> tuple[list[Frame | Message], list[dict[str, Any]], Heard]:
    """Twelve hours, from shore power over the engine to the anchorage, at full rate."""
    truth: list[dict[str, Any]] = []
    items = list(Voyage("quiet-anchorage", 1, START_S, HOURS / 24, on_truth=truth.append))
    return items, truth, heard(items)


Day = tuple[list[Frame | Message], list[dict[str, Any]], Heard]


def test_items_come_in_order_of_time_and_no_bus_is_overloaded(day: Day) -> None:
    """1,562 frames a second is what a 250 kbit/s bus carries if every frame is the longest (Davis
    and others, Real-Time Systems 35, 2007)."""
    times = np.array([item.at_s for item in day[0]])
    backbone = np.array([item.at_s for item in day[0] if item.source == "can0"])

    assert (np.diff(times) >= 0).all()
    assert np.unique(backbone.astype(int), return_counts=True)[1].max() < 200


@pytest.mark.parametrize(
    ("message", "instance", "period_s"),
    [
        ("battery status", 0, 1), ("battery status", 1, 1), ("dc detail", 0, 5),
        ("fluid level", 0, 2.5), ("fluid level", 1, 2.5), ("pressure", 0, 1), ("attitude", 0, 1),
        ("dc point", 2, 1.5), ("dc point", 3, 1.5), ("dc point", 4, 1.5), ("position", 0, 5),
        ("system time", 0, 10), ("Pack", 0, 1), ("Cells", 0, 1), ("Limits", 0, 1), ("Temperatures", 0, 5),
    ],
)  # fmt: skip
def test_every_instrument_speaks_at_its_rate(day: Day, message: str, instance: int, period_s: float) -> None:
    """Published transmission intervals, or what the row says where none is published."""
    times = np.array([at_s for at_s, _ in day[2][(message, instance)]])

    assert len(times) == pytest.approx(HOURS * 3600 / period_s, abs=2)
    assert np.abs(np.diff(times) - period_s).max() <= 0.0501 + 0.05


def test_the_shunt_reads_the_truth_with_an_offset_and_the_wires_steps(day: Day) -> None:
    """Steps of 127508: 10 mV and 0.1 A. Its offset has a standard deviation of 150 mA."""
    said = day[2][("battery status", 0)]
    volts, amperes = column(said, "voltage"), column(said, "current")
    bms = column(day[2][("Pack", 0)], "Current")

    assert volts * 100 == pytest.approx(np.rint(volts * 100), abs=1e-6)
    assert amperes * 10 == pytest.approx(np.rint(amperes * 10), abs=1e-6)
    count = min(len(amperes), len(bms))
    assert abs(np.mean(amperes[:count] - bms[:count])) < 4 * (0.15**2 + 0.1**2) ** 0.5
    assert volts.max() <= 14.25


def test_the_clock_on_the_bus_tells_the_frames_own_time(day: Day) -> None:
    for at_s, values in day[2][("system time", 0)]:
        assert values["date"] is not None
        assert values["time"] is not None
        assert values["date"] * 86400 + values["time"] == pytest.approx(at_s, abs=0.001)


def pump_edges(said: Heard) -> list[tuple[float, float]]:
    """The first thing said of the pump, and every change of it."""
    edges: list[tuple[float, float]] = []
    for at_s, values in said[("switch bank", 0)]:
        state = values["indicator 1"]
        assert state is not None
        if not edges or edges[-1][1] != state:
            edges.append((at_s, state))
    return edges


def test_pump_edges_on_the_bus_are_the_runs_that_were_lived_to_the_millisecond(day: Day) -> None:
    _, truth, said = day
    edges = pump_edges(said)
    starts = [at_s for at_s, state in edges if state == 1]
    stops = [at_s for at_s, state in edges[1:] if state == 0]
    runs = [line for line in truth if line.get("event") == "pump run"]

    assert len(runs) == len(stops) > 20
    for run, start_s, stop_s in zip(runs, starts, stops, strict=False):
        assert datetime.fromisoformat(run["start"]).timestamp() == pytest.approx(start_s, abs=0.0011)
        assert stop_s - start_s == pytest.approx(run["seconds"], abs=0.0011)


def test_senders_read_the_tanks_through_their_shapes(day: Day) -> None:
    """By the sounding table of the sample settings; tolerance: heel, slosh and drift at anchor."""
    _, truth, said = day
    tanks = {
        t.name: t for t in parse_settings(Voyage("passage", 1, START_S, 1).settings_text(), Path(".")).tanks
    }
    line = [line for line in truth if "tanks" in line][-1]
    for instance, name in enumerate(("forward", "midship")):
        level = np.median(column(said[("fluid level", instance)][-100:], "level"))
        table = tanks[name].sounding or [(0.0, 0.0), (100.0, tanks[name].capacity_L)]
        litres = np.interp(level, [r for r, _ in table], [v for _, v in table])
        assert litres == pytest.approx(line["tanks"][name], abs=0.02 * tanks[name].capacity_L)


def test_the_engines_and_the_shores_messages_come_only_with_them(day: Day) -> None:
    said = day[2]
    leaves_s = START_S + 8 * 3600  # 10:00 by the ship's clock
    shore = [at_s for at_s, _ in said[("ac input", 0)]]
    engine = [at_s for at_s, _ in said[("engine rapid", 0)]]

    assert max(shore) <= leaves_s
    assert leaves_s <= min(engine)
    assert max(engine) <= leaves_s + 1.5 * 3600
    assert column(said[("ac input", 0)], "ac current").max() <= 10.05


def test_mqtt_payloads_are_json_numbers_and_words(day: Day) -> None:
    texts = {item.topic: item.payload for item in day[0] if isinstance(item, Message)}

    assert texts.keys() == {"marram/panels", "marram/heater"}
    assert texts["marram/heater"].endswith((b'"element":"off"}', b'"element":"on"}'))


def test_how_often_it_is_read_changes_nothing_that_happens(day: Day) -> None:
    _, truth, said = day
    seldom_truth: list[Any] = []
    seldom = heard(
        Voyage("quiet-anchorage", 1, START_S, HOURS / 24, 60.0, on_truth=seldom_truth.append), 127501
    )

    assert seldom_truth == truth
    assert pump_edges(seldom)[1:] == pump_edges(said)[1:]


def test_a_past_told_in_haste_goes_on_at_the_instruments_own_rate() -> None:
    live_s = START_S + 4000.0
    truth: list[Any] = []
    voyage = Voyage("quiet-anchorage", 1, START_S, 0.08, 10.0, live_from_s=live_s, on_truth=truth.append)
    said = heard(voyage, 127508)[("battery status", 0)]
    times = np.array([at_s for at_s, _ in said])

    assert np.diff(times[times < live_s - 10]) == pytest.approx(10.0, abs=0.051)
    assert np.diff(times[times >= live_s]) == pytest.approx(1.0, abs=0.051)
    assert np.diff(times).max() <= 10.051
    assert truth == list(Voyage("quiet-anchorage", 1, START_S, 0.08).truth())


def test_the_same_seed_is_the_same_voyage_and_another_is_another() -> None:
    def bytes_of(seed: int) -> list[Any]:
        return [tuple(item) for item in Voyage("passage", seed, START_S, 0.02)]

    assert bytes_of(4) == bytes_of(4)
    assert bytes_of(4) != bytes_of(5)


def test_the_truth_alone_is_the_truth_beside_the_frames() -> None:
    beside: list[Any] = []
    for _ in Voyage("burst-hose", 2, START_S, 0.3, 60.0, on_truth=beside.append):
        pass

    assert list(Voyage("burst-hose", 2, START_S, 0.3).truth()) == beside


@pytest.mark.parametrize("name", SCENARIOS)
def test_every_scenario_has_settings_that_stand(name: str) -> None:
    settings = parse_settings(Voyage(name, 1, START_S, 1).settings_text(), Path("/boat"))

    assert settings.boat.name == "Marram"
    assert settings.boat.latitude == SCENARIOS[name].latitude
    assert len(settings.sources) == 3


def truth_of(name: str, days: float, seed: int = 1) -> list[dict[str, Any]]:
    return list(Voyage(name, seed, START_S, days).truth())


def events(truth: list[dict[str, Any]], event: str) -> list[dict[str, Any]]:
    return [line for line in truth if line.get("event") == event]


@pytest.fixture(scope="module")
def quiet_week() -> list[dict[str, Any]]:
    return truth_of("quiet-anchorage", 7)


def test_a_quiet_week_holds_full_charges_and_no_leak(quiet_week: list[dict[str, Any]]) -> None:
    fulls = events(quiet_week, "full charge")
    charge = [line["charge_pct"] for line in quiet_week if "charge_pct" in line]

    assert len(fulls) >= 2
    assert datetime.fromisoformat(fulls[0]["time"]).timestamp() - START_S < 8 * 3600
    assert min(charge) > 25
    assert max(line["leak_L_per_h"] for line in quiet_week if "leak_L_per_h" in line) == 0


def test_nights_of_three_aboard_use_what_such_nights_use(quiet_week: list[dict[str, Any]]) -> None:
    """Twelve hours of October night at anchor: 0.7 to 1.3 kWh and 5 to 25 L for three (common
    practice: some 80 Ah overnight for a comfortable boat)."""
    nights = [line for line in quiet_week if "night_from" in line]

    assert len(nights) == 6
    for night in nights:
        assert 700 <= night["used_Wh"] <= 1300
        assert 3 <= night["water_L"] <= 25
        assert night["leaked_L"] == 0


def test_the_lines_of_truth_add_up(quiet_week: list[dict[str, Any]]) -> None:
    """Ten-minute means of made less used, summed, are what the charge rose by, less what every
    battery loses: 0 to 6 % of what went through it."""
    lines = [line for line in quiet_week if "charge_pct" in line]
    first, last = lines[0], lines[-1]
    net_Wh = sum(line["made_W"] - line["house_W"] for line in lines[1:]) / 6
    made_Wh = sum(line["made_W"] for line in lines[1:]) / 6

    stored_Wh = (last["charge_pct"] - first["charge_pct"]) / 100 * 460 * 13.2
    assert 0 <= net_Wh - stored_Wh <= 0.06 * made_Wh


def test_a_slow_leak_begins_in_the_second_night_and_goes_on() -> None:
    truth = truth_of("slow-leak", 2.5)
    (begins,) = events(truth, "leak begins")
    after = [
        line["leak_L_per_h"] for line in truth if "leak_L_per_h" in line and line["time"] > begins["time"]
    ]

    assert begins["time"].startswith("2026-10-02T20:30")
    assert after[1:] == pytest.approx([0.5] * len(after[1:]), abs=0.01)


def test_a_burst_hose_costs_the_tank_while_they_sleep() -> None:
    truth = truth_of("burst-hose", 2.6)
    (burst,) = events(truth, "burst")
    longest = max(line["seconds"] for line in events(truth, "pump run"))

    assert burst["time"].startswith("2026-10-03T01:10")
    assert 50 * 60 <= longest <= 60 * 60
    low = min(line["tanks"]["midship"] for line in truth if "tanks" in line)
    assert low == pytest.approx(10.0, abs=0.1)  # the pick-up reaches no deeper
    assert events(truth, "fill")


Week = tuple[list[dict[str, Any]], Heard]


@pytest.fixture(scope="module")
def cloudy_week() -> Week:
    """Its truth, and what engine, generator and supplies say in it."""
    truth: list[dict[str, Any]] = []
    voyage = Voyage("cloudy-week", 1, START_S, 7.5, 120.0, on_truth=truth.append)
    return truth, heard(voyage, 127488, 127489, 127503)


def test_a_cloudy_week_brings_the_bank_low(cloudy_week: Week) -> None:
    """Under the 30 % at which the sample settings warn, but never dark."""
    truth, _ = cloudy_week

    assert min(line["charge_pct"] for line in truth if "charge_pct" in line) < 30
    assert not events(truth, "cut")


def test_in_a_cloudy_week_the_crew_runs_the_generator_and_the_bus_says_so(cloudy_week: Week) -> None:
    """Its load is a good one, half to three quarters of 3.2 kW (common practice), until the charger
    holds back; n = 120 f / 2."""
    truth, said = cloudy_week
    runs = [
        (datetime.fromisoformat(a["time"]).timestamp(), datetime.fromisoformat(b["time"]).timestamp())
        for a, b in zip(events(truth, "generator starts"), events(truth, "generator stops"), strict=True)
    ]
    supply, engine = said[("ac input", 1)], said[("engine rapid", 1)]
    charged = [line["made_W"] for line in truth if "made_W" in line and within(line, *runs[0])]

    assert len(runs) >= 2
    assert len(events(truth, "engine starts")) == 1
    for times in ([at_s for at_s, _ in supply], [at_s for at_s, _ in engine]):
        assert all(any(start_s <= at_s < stop_s for start_s, stop_s in runs) for at_s in times)
        assert len(times) == pytest.approx(sum(b - a for a, b in runs) / 120, abs=len(runs))
    assert 0.5 <= np.median(column(supply, "ac power")) / 3200 <= 0.75
    assert column(supply, "ac current").max() <= 14.0
    assert column(engine, "speed") == pytest.approx(60 * column(supply, "ac frequency"), abs=40)
    fuel = column(said[("engine detail", 1)], "fuel rate")
    assert (fuel >= 0.3).all()
    assert (fuel <= 1.4).all()
    assert min(charged[1:-1]) > 1000


def within(line: dict[str, Any], start_s: float, end_s: float) -> bool:
    return start_s < datetime.fromisoformat(line["time"]).timestamp() <= end_s


def test_a_dead_sender_sticks_and_then_says_nothing() -> None:
    levels = heard(Voyage("dead-sender", 1, START_S, 5.2, 120.0), 127505)
    midship = levels[("fluid level", 1)]
    stuck = [v["level"] for at_s, v in midship if 1.8 < (at_s - START_S) / 86400 < 4.4]
    dead = [v["level"] for at_s, v in midship if (at_s - START_S) / 86400 > 4.6]
    forward = [v["level"] for at_s, v in levels[("fluid level", 0)] if (at_s - START_S) / 86400 > 4.6]

    assert len(set(stuck)) == 1
    assert set(dead) == {None}
    assert None not in forward


def test_a_passage_goes_somewhere_heeled_and_uses_twice_as_much() -> None:
    """325 Ah a day sailing against 211 at anchor in a worked budget of the trade; 12 V."""
    truth: list[dict[str, Any]] = []
    said = heard(Voyage("passage", 1, START_S, 2.5, 60.0, on_truth=truth.append), 129025, 127257)
    latitudes = column(said[("position", 0)], "latitude")
    heel = column(said[("attitude", 0)], "heel")
    sailing = [line["house_W"] for line in truth if "house_W" in line and line["time"] > "2026-10-01T12"]

    assert latitudes[-1] < latitudes[0] - 1.0
    # 5.2 knots on 215 degrees, a minute of latitude the mile, a word each minute: never by jumps.
    southing = -60 * np.diff(latitudes[-60 * 24 :])
    assert southing == pytest.approx(5.2 / 60 * np.cos(np.radians(35)), abs=0.006)
    assert abs(np.mean(heel[-100:])) > 6
    assert 120 <= np.mean(sailing) <= 220
    assert not events(truth, "cut")
