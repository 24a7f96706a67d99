"""The sources told apart: by their meters, by what is live, and by balance."""

import json
from array import array
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.estimation.flows import FlowWatch
from monitor.estimation.ships_days import ShipsDays, ships_day
from monitor.estimation.watcher import Heard
from monitor.records import Column, Estimate, Event, EventKind, Flow, Mode, Reading, Reason
from monitor.settings import Settings
from monitor.settings_file import parse_settings

NOON_S = datetime(2026, 6, 1, 10, tzinfo=UTC).timestamp()
"""Twelve by the clock of Madrid in summer."""
MIDNIGHT_S = datetime(2026, 6, 1, 22, tzinfo=UTC).timestamp()


def boat(more: str = "") -> Settings:
    return parse_settings(
        """
        [boat]
        name = "Test"
        time_zone = "Europe/Madrid"
        latitude = 42.55
        longitude = -8.90
        [[banks]]
        name = "house"
        nominal_V = 12.5
        capacity_Ah = 400
        [[chargers]]
        name = "panels"
        kind = "sun"
        into = "house"
        rated_W = 500
        [[chargers]]
        name = "alternator"
        kind = "alternator"
        into = "house"
        rated_A = 100
        [[chargers]]
        name = "shore charger"
        kind = "shore"
        into = "house"
        rated_A = 80
        [[chargers]]
        name = "converter"
        kind = "converter"
        into = "house"
        rated_A = 25
        [[supplies]]
        name = "shore"
        [[supplies]]
        name = "genset"
        kind = "generator"
        [[engines]]
        name = "engine"
        [[engines]]
        name = "generator"
        drives = "generator"
        """
        + more,
        Path(),
    )


class Aboard:
    """Hands minutes to a watch: what was said in them, and what the banks took."""

    def __init__(self, settings: Settings | None = None) -> None:
        self.watch = FlowWatch(settings or boat())
        self.start_s = 0.0
        self.readings: dict[str, Reading] = {}
        self.events: list[Event] = []

    def minutes(
        self, count: int, net_W: float | None, utc_s: float | None = NOON_S, pct: float = 50.0, **said: float
    ) -> "Aboard":
        """`said` by channel name, with _ for the spaces; what is not said is silent."""
        for n in range(count):
            at_utc_s = None if utc_s is None else utc_s + 60.0 * n
            self._minute(net_W, at_utc_s, pct, {"house_voltage": 13.0} | said)
        return self

    def _minute(
        self, net_W: float | None, utc_s: float | None, pct: float, said: Mapping[str, float]
    ) -> None:
        columns = {}
        self.readings = {name: r._replace(silent=True) for name, r in self.readings.items()}
        for key, value in said.items():
            name = key.replace("_", " ")
            columns[name] = Column(array("d", [self.start_s + 30]), array("d", [value]))
            self.readings[name] = Reading(self.start_s + 30, value, False)
        charge = Estimate(
            "charge_pct", "house", self.start_s, pct, pct - 5, pct + 5, Reason("charge counted")
        )
        net_Wh = None if net_W is None else net_W / 60
        self.watch.take(
            Heard(
                self.start_s, utc_s, 1, columns, dict(self.readings), Mode("at anchor", "awake"),
                {("charge_pct", "house"): charge}, net_Wh,
            )
        )  # fmt: skip
        self.events += self.watch.events()
        self.start_s += 60.0

    def flow(self, name: str) -> Flow:
        return next(f for f in self.watch.flows() if f.name == name)


def test_before_anything_was_heard_everything_is_unknown() -> None:
    flows = FlowWatch(boat()).flows()

    assert [(f.name, f.kind) for f in flows] == [
        ("panels", "sun"), ("alternator", "alternator"), ("shore charger", "shore"),
        ("generator", "generator"),
    ]  # fmt: skip
    assert {(f.watts, f.today_Wh, f.week_Wh, f.learned) for f in flows} == {(None, None, None, False)}


def test_until_it_is_learned_the_label_is_planned_on() -> None:
    """Common practice: 60 % of the label of an alternator and of panels, 90 % of a charger's on mains:
    100 A at 12.5 V are 1250 W, of which 750; 80 A are 1000 W, of which 900."""
    usual = {f.name: f.usual_W for f in FlowWatch(boat()).flows()}

    assert usual == {"panels": 300.0, "alternator": 750.0, "shore charger": 900.0, "generator": 900.0}


def test_a_meter_of_watts_counts_before_one_of_amperes() -> None:
    aboard = Aboard().minutes(60, 100, panels_power=200.0, panels_current=30.0, alternator_current=10.0)

    assert aboard.flow("panels").watts == pytest.approx(200.0)
    assert aboard.flow("panels").today_Wh == pytest.approx(200.0)
    assert aboard.flow("alternator").watts == pytest.approx(130.0)
    assert aboard.flow("panels").metered


@pytest.mark.parametrize(
    ("live", "shore_W", "generator_W"),
    [
        ({"shore_ac_voltage": 230.0}, 650.0, 0.0),
        ({"genset_ac_voltage": 230.0}, 0.0, 650.0),
        ({"generator_speed": 1500.0}, 0.0, 650.0),
        ({"shore_ac_voltage": 230.0, "genset_ac_voltage": 230.0}, 650.0, 0.0),
        ({"shore_ac_voltage": 0.0, "genset_ac_voltage": 228.0}, 0.0, 650.0),
        ({}, 650.0, 0.0),
    ],
)
def test_one_charger_works_for_whatever_feeds_it(
    live: dict[str, float], shore_W: float, generator_W: float
) -> None:
    """50 A at 13 V: the generator's where it is live and the shore is not."""
    aboard = Aboard().minutes(1, 500, shore_charger_current=50.0, **live)

    assert aboard.flow("shore charger").watts == pytest.approx(shore_W)
    assert aboard.flow("generator").watts == pytest.approx(generator_W)


def test_a_charger_of_the_generators_own_leaves_the_shores_alone() -> None:
    own = '[[chargers]]\nname = "set charger"\nkind = "generator"\ninto = "house"\nrated_A = 40\n'
    aboard = Aboard(boat(own)).minutes(1, 500, shore_charger_current=50.0, genset_ac_voltage=230.0)

    assert [f.name for f in aboard.watch.flows() if f.kind == "generator"] == ["set charger"]
    assert aboard.flow("shore charger").watts == pytest.approx(650.0)


def test_an_alternator_without_a_meter_is_told_by_balance() -> None:
    """The banks take 700 W, the panels give 100 of them and the engine runs: the alternator gives 600 at
    least. Without the engine nobody knows whose they are."""
    running = Aboard().minutes(30, 700, panels_power=100.0, engine_speed=1500.0)
    stopped = Aboard().minutes(30, 700, panels_power=100.0, shore_charger_current=0.0)

    assert running.flow("alternator").watts == pytest.approx(600.0)
    assert running.flow("alternator").today_Wh == pytest.approx(300.0)
    assert not running.flow("alternator").metered
    assert stopped.flow("alternator").watts == 0.0
    assert stopped.flow("unmetered").watts == pytest.approx(600.0)
    assert stopped.flow("unmetered").kind == "unmetered"


def test_panels_without_a_meter_are_told_by_balance_while_the_sun_is_up() -> None:
    by_day = Aboard().minutes(1, 250, alternator_current=0.0)
    by_night = Aboard().minutes(1, 250, utc_s=MIDNIGHT_S, alternator_current=0.0)

    assert by_day.flow("panels").watts == pytest.approx(250.0)
    assert not by_day.flow("panels").metered
    assert by_night.flow("panels").watts == 0.0
    assert by_night.flow("unmetered").watts == pytest.approx(250.0)


def test_a_running_alternator_that_shows_nothing_in_the_balance_is_unknown() -> None:
    """The loads may take all it gives."""
    assert Aboard().minutes(1, -20, engine_speed=900.0, panels_power=0.0).flow("alternator").watts is None


def test_the_errors_of_meters_are_no_source() -> None:
    """A shunt that reads 3 % more than the chargers' meters finds no hidden source."""
    aboard = Aboard().minutes(60, 1030, panels_power=0.0, alternator_power=1000.0, shore_charger_power=0.0)

    assert [f for f in aboard.watch.flows() if f.kind == "unmetered"] == []


@given(
    net_W=st.floats(-2000, 3000),
    sun_W=st.floats(0, 500),
    alternator_W=st.floats(0, 1500),
    charger_W=st.floats(0, 1200),
    generator=st.booleans(),
)
def test_nothing_is_counted_twice_and_nothing_is_lost(
    net_W: float, sun_W: float, alternator_W: float, charger_W: float, generator: bool
) -> None:
    """A conservation law: all sources together give what the meters say, or what the banks took where
    that is more than the meters' errors explain (5 % and 30 W)."""
    live = {"genset_ac_voltage": 230.0} if generator else {}
    aboard = Aboard().minutes(
        1, net_W, panels_power=sun_W, alternator_power=alternator_W, shore_charger_power=charger_W, **live
    )
    metered_W = sun_W + alternator_W + charger_W
    beyond = net_W > 1.05 * metered_W + 30

    total_W = sum(f.watts or 0.0 for f in aboard.watch.flows())
    assert total_W == pytest.approx(net_W if beyond else metered_W)


@given(
    said=st.dictionaries(
        st.sampled_from([
            "panels_power", "panels_current", "alternator_current", "alternator_voltage",
            "shore_charger_power", "engine_speed", "generator_speed", "shore_ac_voltage",
            "genset_ac_voltage", "house_voltage",
        ]),
        st.one_of(st.floats(-2000, 2000), st.just(float("nan"))),
    ),
    net_W=st.one_of(st.none(), st.floats(-5000, 5000)),
    utc_s=st.one_of(st.none(), st.floats(0, 4e9)),
)  # fmt: skip
def test_whatever_instruments_say_nothing_flows_out_of_a_source(
    said: dict[str, float], net_W: float | None, utc_s: float | None
) -> None:
    aboard = Aboard().minutes(2, net_W, utc_s=utc_s, **said)

    for flow in aboard.watch.flows():
        assert flow.watts is None or flow.watts >= 0.0
    json.dumps(aboard.watch.state(), allow_nan=False)


def test_a_day_is_the_ships_day() -> None:
    """22:00 UTC is midnight in Madrid in summer: half an hour of 120 W on either side."""
    aboard = Aboard().minutes(60, 100, utc_s=MIDNIGHT_S - 1800, alternator_power=120.0)

    assert aboard.flow("alternator").today_Wh == pytest.approx(60.0)
    assert aboard.flow("alternator").week_Wh == pytest.approx(120.0)


def test_a_week_is_today_and_six_days_before() -> None:
    aboard = Aboard()
    for day in range(10):
        aboard.minutes(30, 100, utc_s=NOON_S + 86400 * day, alternator_power=120.0)

    assert aboard.flow("alternator").today_Wh == pytest.approx(60.0)
    assert aboard.flow("alternator").week_Wh == pytest.approx(7 * 60.0)


def test_days_that_were_not_heard_add_nothing() -> None:
    days = ShipsDays(["panels"])
    days.turn_to(100)
    days.add("panels", 500.0)
    days.turn_to(103)
    assert (days.today("panels"), days.week("panels")) == (None, 500.0)
    days.turn_to(107)
    assert days.week("panels") is None


def test_a_clock_put_back_forgets_the_days_that_have_not_been() -> None:
    days = ShipsDays(["panels"])
    for day in (100, 101, 102):
        days.turn_to(day)
        days.add("panels", float(day))
    days.turn_to(101)

    assert (days.today("panels"), days.week("panels")) == (101.0, 201.0)


def test_the_day_turns_over_in_the_ships_zone() -> None:
    """2026-10-25: the clocks of Madrid go back, and midnight there is 23:00 UTC afterwards."""
    madrid = boat().boat.zone
    last = datetime(2026, 10, 25, 22, 59, tzinfo=UTC).timestamp()

    assert ships_day(last, madrid) + 1 == ships_day(last + 60, madrid)


def test_without_a_trusted_clock_there_is_no_day() -> None:
    aboard = Aboard().minutes(5, 100, utc_s=None, alternator_power=120.0)

    assert aboard.flow("alternator").watts == pytest.approx(120.0)
    assert aboard.flow("alternator").today_Wh is None


def test_a_silent_meter_is_unknown_and_panels_by_night_are_not() -> None:
    aboard = Aboard().minutes(5, 100, panels_power=200.0).minutes(5, None)
    assert aboard.flow("panels").watts is None
    assert aboard.flow("panels").today_Wh == pytest.approx(200 * 5 / 60)

    aboard.minutes(1, -50, utc_s=MIDNIGHT_S)
    assert aboard.flow("panels").watts == 0.0


def test_a_run_of_the_engine_is_worth_a_line_in_the_log() -> None:
    """50 minutes at 720 W are 600 Wh. A pause of three minutes does not end it; two minutes at 100 W are
    not worth a line."""
    aboard = Aboard().minutes(20, 600, alternator_power=720.0).minutes(3, -50, alternator_power=0.0)
    aboard.minutes(30, 600, alternator_power=720.0).minutes(10, -50, alternator_power=0.0)
    aboard.minutes(2, 50, alternator_power=100.0).minutes(10, -50, alternator_power=0.0)

    (event,) = aboard.events
    assert (event.kind, event.subject, event.boot) == (EventKind.CHARGE, "alternator", 1)
    assert (event.start_s, event.end_s) == (0.0, 53 * 60.0)
    assert event.facts["made_Wh"] == pytest.approx(600, abs=1)


def test_a_restart_loses_nothing() -> None:
    aboard = Aboard().minutes(60, 600, alternator_power=700.0, panels_power=0.0, shore_charger_power=0.0)
    kept = json.loads(json.dumps(aboard.watch.state()))
    again = Aboard()
    again.watch.restore(kept)
    again.minutes(1, None, alternator_power=0.0)

    before, after = aboard.flow("alternator"), again.flow("alternator")
    assert after.week_Wh == pytest.approx(before.week_Wh, abs=0.1)
    assert (after.usual_W, after.learned) == (before.usual_W, True)


def test_the_state_stays_small() -> None:
    """It is stored with every minute."""
    aboard = Aboard()
    for day in range(9):
        aboard.minutes(
            120, 1500, utc_s=NOON_S + 86400 * day, panels_power=411.1, alternator_power=733.3,
            shore_charger_power=999.9, shore_ac_voltage=230.0,
        )  # fmt: skip
        aboard.minutes(
            60, 800, utc_s=NOON_S + 86400 * day, panels_power=411.1, alternator_power=733.3,
            shore_charger_power=999.9, genset_ac_voltage=230.0,
        )  # fmt: skip

    assert len(json.dumps(aboard.watch.state())) < 2000


def test_a_new_boot_knows_what_it_learned_but_not_what_flows() -> None:
    aboard = Aboard().minutes(60, 600, alternator_power=700.0, panels_power=0.0, shore_charger_power=0.0)
    aboard.watch.new_boot()

    assert aboard.flow("alternator").watts is None
    assert aboard.flow("alternator").learned
