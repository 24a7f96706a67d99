"""What watermakers make, take and fill."""

import json
from array import array
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime

import numpy as np
import pytest

from monitor.estimation.making import MakerWatch
from monitor.estimation.watcher import Heard, WaterHeard
from monitor.records import Column, Estimate, Event, EventKind, Making, Mode, Reading, Reason
from monitor.settings import Boat, Draw, Pump, Settings, Tank, Watermaker
from monitor.words.say import SENTENCES, say
from monitor.words.units import UNKNOWN, Dress

NOON_S = datetime(2026, 6, 1, 12, tzinfo=UTC).timestamp()
US_GALLON_L = 3.785411784
"""231 cubic inches (NIST Handbook 44, appendix C)."""
STOPPED, STARTING, RUNNING, FLUSHING = 0.0, 1.0, 2.0, 4.0
Said = Mapping[str, float | Sequence[float]]


def boat(rated_L_per_h: float | None = None, rated_W: float | None = None, tanks: int = 0) -> Settings:
    maker = Watermaker(name="maker", rated_L_per_h=rated_L_per_h, rated_W=rated_W)
    draws = [Draw(name="maker flush", litres=12, every_h=120)]
    return Settings(
        boat=Boat(name="Test"),
        watermakers=[maker],
        pumps=[Pump(name="pump", draws=draws)],
        tanks=[Tank(name=f"tank {n}", capacity_L=200, unusable_L=10) for n in range(tanks)],
    )


class Aboard:
    """Hands the watch minutes. A quantity of the maker speaks once or several times in each."""

    def __init__(self, settings: Settings, utc_s: float | None = NOON_S) -> None:
        self.watch = MakerWatch(settings)
        self.at_s = 0.0
        self.utc_s = utc_s
        self.readings: dict[str, Reading] = {}
        self.left: dict[str, float | None] = {}

    def minutes(self, count: int, said: Said, runs_L: Sequence[float] = ()) -> "Aboard":
        for n in range(count):
            self._minute(said, runs_L if n == 0 else ())
        return self

    def _minute(self, said: Said, runs_L: Sequence[float]) -> None:
        columns = {}
        for quantity, told in said.items():
            values = list(told) if isinstance(told, Sequence) else [told] * 4
            times = np.linspace(self.at_s, self.at_s + 59, len(values))
            columns[f"maker {quantity}"] = Column(array("d", times), array("d", values))
            self.readings[f"maker {quantity}"] = Reading(self.at_s + 59, values[-1], False)
        runs = tuple(
            Event(EventKind.PUMP_RUN, "pump", 0, self.at_s, self.at_s + 50, {"litres": litres})
            for litres in runs_L
        )
        estimates = {
            ("tank_L", n): Estimate("tank_L", n, 0.0, v, v, v, Reason("tank level"))
            for n, v in self.left.items()
        }
        heard = Heard(
            self.at_s, self.utc_s, 1, columns, dict(self.readings), Mode("at anchor", "awake"), {},
            water=WaterHeard(runs, estimates=estimates),
        )  # fmt: skip
        self.watch.take(heard)
        self.at_s += 60.0
        self.utc_s = None if self.utc_s is None else self.utc_s + 60.0

    def silent(self) -> None:
        self.readings = {name: reading._replace(silent=True) for name, reading in self.readings.items()}

    def now(self) -> Making:
        return self.watch.making()[0]

    def told(self, name: str) -> Estimate:
        return next(e for e in self.watch.estimates() if e.name == name)


def test_the_flow_is_integrated() -> None:
    """Conservation: 30 L/h for 40 minutes and 24 L/h for 10 are 20 + 4 = 24 L."""
    aboard = Aboard(boat()).minutes(40, {"flow": 30.0}).minutes(10, {"flow": [20.0, 28.0]})

    assert aboard.now().today_L == pytest.approx(24.0)
    assert aboard.now().L_per_h == pytest.approx(24.0)
    assert aboard.now().running is True


def test_without_a_meter_the_rating_counts_while_it_runs() -> None:
    """60 L/h for half an hour, and half of one more minute: 30.5 L."""
    aboard = Aboard(boat(60.0)).minutes(30, {"watermaker state": RUNNING})
    aboard.minutes(1, {"watermaker state": [RUNNING, STOPPED]}).minutes(10, {"watermaker state": STOPPED})
    estimate = aboard.told("made_L")

    assert estimate.value == pytest.approx(30.5)
    assert (estimate.high or 0) - (estimate.low or 0) > 10
    assert aboard.now().L_per_h == 0.0
    assert aboard.now().running is False


def test_what_flows_while_it_starts_or_flushes_goes_overboard() -> None:
    aboard = Aboard(boat()).minutes(10, {"flow": 30.0, "watermaker state": STARTING})
    aboard.minutes(10, {"flow": 30.0, "watermaker state": FLUSHING})
    assert aboard.now().today_L == 0.0


def test_a_meter_that_says_more_than_a_membrane_makes_is_not_believed() -> None:
    """And noise about zero is nothing."""
    wild = Aboard(boat(60.0)).minutes(10, {"flow": 6000.0})
    assert wild.now().L_per_h is None
    still = Aboard(boat(60.0)).minutes(60, {"flow": [-0.4, 0.5, 0.2]})
    assert still.now().running is False
    assert still.now().today_L == 0.0


def test_watt_hours_a_litre() -> None:
    """Common practice: a watermaker with energy recovery takes 1.2 Ah a US gallon at 12.6 V, 4 Wh a litre:
    1.2 x 12.6 / 3.785 = 3.99."""
    gallons_per_h = 8.0
    said = {"flow": gallons_per_h * US_GALLON_L, "current": -1.2 * gallons_per_h, "voltage": 12.6}
    aboard = Aboard(boat()).minutes(60, said)

    assert aboard.now().Wh_per_L == pytest.approx(4.0, rel=0.01)


@pytest.mark.parametrize(
    ("said", "rated_W", "Wh_per_L"),
    [
        ({"power": 150.0}, None, 5.0),
        ({"ac power": 450.0}, None, 15.0),
        ({"current": 10.0}, None, 10 * 12.8 / 30),
        ({}, 360.0, 12.0),
        ({}, None, None),
    ],
)
def test_what_it_takes_from_whatever_tells_it(
    said: dict[str, float], rated_W: float | None, Wh_per_L: float | None
) -> None:
    """Watts over 30 L/h, by hand."""
    aboard = Aboard(boat(rated_W=rated_W)).minutes(60, said | {"flow": 30.0})
    expected = None if Wh_per_L is None else pytest.approx(Wh_per_L)
    assert aboard.now().Wh_per_L == expected


def test_minutes_without_a_power_are_not_litres_for_nothing() -> None:
    aboard = Aboard(boat()).minutes(60, {"flow": 30.0, "power": 150.0})
    aboard.silent()
    aboard.minutes(60, {"flow": 30.0})
    assert aboard.now().Wh_per_L == pytest.approx(5.0)
    assert aboard.now().today_L == pytest.approx(60.0)


def test_when_its_tanks_are_full() -> None:
    """Two tanks of 200 L with 10 L unusable; 100 L and 160 L above that are left: room for 90 + 30 L, at
    30 L/h four hours."""
    aboard = Aboard(boat(tanks=2))
    aboard.left = {"tank 0": 100.0, "tank 1": 160.0}
    assert aboard.minutes(1, {"flow": 30.0}).now().full_in_s == pytest.approx(4 * 3600)

    aboard.left["tank 1"] = None
    assert aboard.minutes(1, {"flow": 30.0}).now().full_in_s is None
    aboard.left["tank 1"] = 160.0
    assert aboard.minutes(1, {"flow": 0.0}).now().full_in_s is None


def test_a_silent_maker_is_unknown_and_no_zero() -> None:
    aboard = Aboard(boat(60.0)).minutes(10, {"flow": 30.0})
    aboard.silent()
    aboard.minutes(1, {})
    now = aboard.now()
    assert (now.running, now.L_per_h) == (None, None)
    assert now.today_L == pytest.approx(5.0)
    assert Aboard(boat()).now() == Making("maker", None, None, None, None, None)


def test_today_is_the_ships_day_and_none_without_a_clock() -> None:
    """Twelve hours and a minute after noon it is tomorrow."""
    aboard = Aboard(boat()).minutes(60, {"flow": 30.0}).minutes(661, {"flow": 0.0})
    assert aboard.now().today_L == 0.0
    blind = Aboard(boat(), None).minutes(60, {"flow": 30.0})
    assert blind.now().today_L is None
    assert blind.now().L_per_h == pytest.approx(30.0)


def test_flushes_are_known_by_the_state_or_by_their_declared_litres() -> None:
    by_state = Aboard(boat()).minutes(3, {"watermaker state": FLUSHING}, runs_L=[9.0, 2.0])
    assert by_state.told("made_L").reason.facts["flush_L"] == pytest.approx(11.0)
    running = Aboard(boat()).minutes(3, {"watermaker state": RUNNING, "flow": 30.0}, runs_L=[12.0])
    assert running.told("made_L").reason.facts["flush_L"] is None
    by_litres = Aboard(boat()).minutes(3, {"flow": 0.0}, runs_L=[12.5, 4.0])
    assert by_litres.told("made_L").reason.facts["flush_L"] == pytest.approx(12.5)


def test_a_restart_in_the_middle_of_the_day_loses_nothing() -> None:
    aboard = Aboard(boat()).minutes(60, {"flow": 30.0, "power": 150.0})
    kept = json.dumps(aboard.watch.state())
    assert len(kept) < 2000

    again = Aboard(boat(), NOON_S + 7200)
    again.watch.restore(json.loads(kept))
    again.minutes(60, {"flow": 30.0, "power": 150.0})
    assert again.now().today_L == pytest.approx(60.0, abs=0.1)
    assert again.now().Wh_per_L == pytest.approx(5.0, rel=0.01)


def test_water_not_yet_made_is_told_never_to_count() -> None:
    """Whatever is said of what was made, it says so."""
    for said, rated in (({"flow": 30.0}, None), ({"watermaker state": RUNNING}, 60.0), ({}, None)):
        for runs_L in ((), (12.0,)):
            aboard = Aboard(boat(rated)).minutes(60, said, runs_L)
            words = say(aboard.told("made_L").reason, Dress())
            assert "never counted in the days" in words
            assert UNKNOWN not in words
            for estimate in aboard.watch.estimates():
                assert estimate.reason.id in SENTENCES
