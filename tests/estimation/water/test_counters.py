"""Hours, litres and days since something was done, and when it falls due again."""

import json
from array import array
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime

import numpy as np
import pytest

from monitor.errors import CommandError
from monitor.estimation.counted import Counted
from monitor.estimation.counters import CounterWatch
from monitor.estimation.watcher import Heard, WaterHeard
from monitor.records import Column, Command, Counter, Event, EventKind, Finding, Mode, Reading
from monitor.settings import Boat, Engine, Pump, Service, Settings, Tank, Watermaker
from monitor.words.say import SENTENCES, say
from monitor.words.units import UNKNOWN, Dress

BEGAN_S = datetime(2026, 3, 1, tzinfo=UTC).timestamp()
DAY_S = 86400.0
SERVICES = [
    Service(name="oil and filter", subject="engine", every_h=100, every_days=365),
    Service(name="water filter", subject="pump", every_L=4000, every_days=180),
    Service(name="pump overhaul", subject="pump", every_h=50),
    Service(name="membrane", subject="maker", every_h=500, every_L=20_000),
    Service(name="sanitise the tanks", every_days=180),
    Service(name="accumulator pre-charge", every_days=30),
]


def boat(services: Sequence[Service] = SERVICES) -> Settings:
    return Settings(
        boat=Boat(name="Test"),
        pumps=[Pump(name="pump", flow_L_per_min=10)],
        tanks=[Tank(name="forward", capacity_L=150), Tank(name="aft", capacity_L=250)],
        engines=[Engine(name="engine")],
        watermakers=[Watermaker(name="maker", rated_L_per_h=60)],
        services=list(services),
    )


class Aboard:
    def __init__(self, settings: Settings | None = None, utc_s: float | None = BEGAN_S) -> None:
        self.watch = CounterWatch(settings or boat())
        self.at_s = 0.0
        self.utc_s = utc_s
        self.readings: dict[str, Reading] = {}
        self.told: list[Event] = []

    def minutes(
        self,
        count: int,
        said: Mapping[str, float | Sequence[float]] | None = None,
        runs: Sequence[Event] = (),
    ) -> "Aboard":
        for n in range(count):
            self._minute(said or {}, runs if n == 0 else ())
        return self

    def _minute(self, said: Mapping[str, float | Sequence[float]], runs: Sequence[Event]) -> None:
        columns = {}
        for name, told in said.items():
            values = list(told) if isinstance(told, Sequence) else [told] * 3
            times = np.linspace(self.at_s, self.at_s + 59, len(values))
            columns[name] = Column(array("d", times), array("d", values))
            self.readings[name] = Reading(self.at_s + 59, values[-1], False)
        water, mode = WaterHeard(tuple(runs)), Mode("at anchor", "awake")
        readings = {n: r._replace(silent=n not in said) for n, r in self.readings.items()}
        heard = Heard(self.at_s, self.utc_s, 1, columns, readings, mode, {}, water=water)
        self.watch.take(heard)
        self.told += self.watch.events()
        self.at_s += 60.0
        self.utc_s = None if self.utc_s is None else self.utc_s + 60.0

    def run(self, litres: float, seconds: float | None = None) -> Event:
        length_s = 6 * litres if seconds is None else seconds
        facts = {"litres": litres}
        return Event(EventKind.PUMP_RUN, "pump", 0, self.at_s, self.at_s + length_s, facts)

    def counter(self, name: str, unit: str) -> Counter:
        return next(c for c in self.watch.counters() if (c.name, c.unit) == (name, unit))

    def used(self, name: str, unit: str) -> float:
        return self.counter(name, unit).used

    def found(self, name: str) -> Finding:
        return next(f for f in self.watch.findings() if (f.rule, f.subject) == ("service due", name))

    def restarted(self, off_s: float, clock: bool = True, settings: Settings | None = None) -> "Aboard":
        """The same boat after some time off; with `clock` the time is known at once."""
        kept = json.dumps(self.watch.state())
        assert len(kept) < 2000
        again = Aboard(settings, (self.utc_s or 0.0) + off_s if clock else None)
        again.watch.restore(json.loads(kept))
        return again


def test_litres_and_hours_of_the_pump_come_from_its_runs() -> None:
    """Conservation: 30 runs of 20 L at 10 L/min are 600 L and one hour."""
    aboard = Aboard()
    for _ in range(30):
        aboard.minutes(1, runs=[aboard.run(20.0)])
    assert aboard.used("water filter", "L") == pytest.approx(600.0)
    assert aboard.used("pump overhaul", "h") == pytest.approx(1.0)
    totals = {e.name: e.value for e in aboard.watch.estimates() if e.subject == "pump"}
    assert totals == {
        "run_hours": pytest.approx(1.0),
        "run_litres": pytest.approx(600.0),
        "run_starts": 30,
    }


def test_a_pump_whose_wire_is_off_does_not_wear_out_the_filter() -> None:
    """A signal that sticks for ten hours says 6000 L; the tanks hold 400."""
    aboard = Aboard()
    aboard.minutes(1, runs=[aboard.run(6000.0)])
    assert aboard.used("water filter", "L") == pytest.approx(400.0)


def test_an_engine_without_a_meter_runs_where_it_turns() -> None:
    """Above 300 rpm: ninety minutes, and half of another. Cranking and noise are no hours."""
    aboard = Aboard().minutes(90, {"engine speed": 1800.0}).minutes(1, {"engine speed": [1800.0, 0.0]})
    aboard.minutes(60, {"engine speed": 40.0})
    assert aboard.used("oil and filter", "h") == pytest.approx(90.5 / 60)


def test_its_own_meter_counts_where_it_has_one() -> None:
    """In tenths: from 1234.5 to 1236.0 h, within a step. It is not added to the speed's."""
    aboard = Aboard()
    for n in range(90):
        hours = 1234.5 + (n + 1) // 6 / 10
        aboard.minutes(1, {"engine hours": hours, "engine speed": 2000.0})
    assert aboard.used("oil and filter", "h") == pytest.approx(1.5, abs=0.1)


def test_what_ran_while_the_watch_was_off_is_in_the_meter() -> None:
    """Eight hours more on it after two days off."""
    aboard = Aboard().minutes(5, {"engine hours": 100.0})
    again = aboard.restarted(2 * DAY_S).minutes(5, {"engine hours": 108.0})
    assert again.used("oil and filter", "h") == pytest.approx(8.0)


def test_hours_in_a_silence_of_the_whole_watch_are_in_the_meter_too() -> None:
    """Nothing at all was heard for six hours, five of which the engine ran; the boot is the same."""
    aboard = Aboard().minutes(5, {"engine hours": 100.0})
    aboard.at_s, aboard.utc_s = aboard.at_s + 6 * 3600, (aboard.utc_s or 0.0) + 6 * 3600
    aboard.minutes(5, {"engine hours": 105.0})
    assert aboard.used("oil and filter", "h") == pytest.approx(5.0)


def test_the_meter_waits_for_the_clock_after_a_time_off() -> None:
    again = Aboard().minutes(5, {"engine hours": 100.0}).restarted(2 * DAY_S, clock=False)
    again.minutes(3, {"engine hours": 108.0})
    assert again.used("oil and filter", "h") == 0.0
    again.utc_s = BEGAN_S + 2.1 * DAY_S
    again.minutes(3, {"engine hours": 108.0})
    assert again.used("oil and filter", "h") == pytest.approx(8.0)


@pytest.mark.parametrize("other", [3.0, 5000.0])
def test_another_meter_or_a_wrong_reading_adds_no_hours(other: float) -> None:
    """A meter cannot go back, nor go on further than time did."""
    aboard = Aboard().minutes(60, {"engine hours": 100.0}).minutes(1, {"engine hours": other})
    aboard.minutes(5, {"engine hours": other})
    assert aboard.used("oil and filter", "h") == 0.0
    again = aboard.restarted(DAY_S).minutes(2, {"engine hours": other + 2.0})
    assert again.used("oil and filter", "h") == pytest.approx(2.0)


def test_a_meter_that_falls_silent_is_made_up_for_once() -> None:
    """Two hours seen by the speed while the meter is silent, and the meter says two more then: two."""
    aboard = Aboard().minutes(10, {"engine hours": 100.0, "engine speed": 0.0})
    aboard.minutes(120, {"engine speed": 2000.0}).minutes(5, {"engine hours": 102.0, "engine speed": 0.0})
    assert aboard.used("oil and filter", "h") == pytest.approx(2.0, abs=0.02)


def test_a_meter_that_sticks_gives_way_to_the_speed() -> None:
    aboard = Aboard().minutes(1, {"engine hours": 100.0})
    aboard.minutes(600, {"engine hours": 100.0, "engine speed": 2000.0})
    assert aboard.used("oil and filter", "h") == pytest.approx(10.0, abs=0.1)


def test_a_watermaker_is_counted_in_hours_and_litres() -> None:
    """State 2 is running; 60 L/h for three hours."""
    aboard = Aboard().minutes(180, {"maker watermaker state": 2.0})
    assert aboard.used("membrane", "h") == pytest.approx(3.0)
    assert aboard.used("membrane", "L") == pytest.approx(180.0)


def test_when_it_falls_due_at_the_usual_pace() -> None:
    """Two hours of engine on each of ten days: 20 h used of 100, due in 40 days. The filter has seen 100 L a
    day of 4000: due in 30."""
    aboard = Aboard()
    for _ in range(10):
        aboard.minutes(120, {"engine speed": 2000.0}, [aboard.run(100.0)]).minutes(1320)
    assert aboard.counter("oil and filter", "h").due_in_days == pytest.approx(40.0, rel=0.01)
    assert aboard.counter("water filter", "L").due_in_days == pytest.approx(30.0, rel=0.01)
    assert aboard.counter("accumulator pre-charge", "days").due_in_days == pytest.approx(20.0, abs=0.01)
    assert aboard.counter("membrane", "h").due_in_days is None


def test_a_pace_needs_some_days_and_is_the_latest_ones() -> None:
    """Two days are too few. Sixty at an hour a day and forty at a quarter of one: the last thirty tell a
    quarter."""
    sums = Counted(["h"])
    for n in range(100 * 1440):
        day, minute = divmod(n, 1440)
        sums.minute(BEGAN_S + 60 * n)
        if minute < (60 if day < 60 else 15):
            sums.add("h", 1 / 60)
        if n == 2 * 1440:
            assert sums.a_day("h") is None
        if n == 59 * 1440 - 1:
            assert sums.a_day("h") == pytest.approx(1.0, rel=0.01)
    assert sums.a_day("h") == pytest.approx(0.25, rel=0.01)
    assert sums.total("h") == pytest.approx(70.0)


def test_months_off_are_days_but_no_pace() -> None:
    """Laid up from the tenth day for 120: the days go on by UTC; the pace is that of watched days alone."""
    aboard = Aboard()
    for _ in range(4):
        aboard.minutes(60, {"engine speed": 2000.0}).minutes(1380)
    again = aboard.restarted(120 * DAY_S).minutes(1)
    assert again.used("sanitise the tanks", "days") == pytest.approx(124.0, abs=0.01)
    assert again.used("oil and filter", "h") == pytest.approx(4.0)
    assert again.counter("oil and filter", "h").due_in_days is None
    assert again.found("accumulator pre-charge").holds is True


def test_days_without_a_clock_are_unknown() -> None:
    blind = Aboard(utc_s=None).minutes(60)
    assert [c.unit for c in blind.watch.counters() if c.name == "sanitise the tanks"] == []
    assert blind.found("sanitise the tanks").holds is None
    assert Aboard().found("sanitise the tanks").holds is None


def test_due_at_the_limit_and_not_before() -> None:
    aboard = Aboard()
    for _ in range(39):
        aboard.minutes(1, runs=[aboard.run(100.0)])
    assert (aboard.found("water filter").holds, aboard.found("water filter").clears) == (False, True)
    aboard.minutes(1, runs=[aboard.run(100.0)])
    found = aboard.found("water filter")
    assert (found.holds, found.clears) == (True, False)
    said = say(found.reason, Dress()).replace("\u00a0", " ")
    assert said == "water filter: 4000 L since it was last done, of 4000 L (pump)."


def test_done_begins_anew_and_stands_in_the_log() -> None:
    aboard = Aboard()
    for _ in range(41):
        aboard.minutes(1, runs=[aboard.run(100.0)])
    aboard.watch.wish(Command("service done", "water filter"), aboard.at_s, aboard.utc_s)
    (event,) = aboard.watch.events()

    assert (event.kind, event.subject) == (EventKind.SERVICE, "water filter")
    assert event.facts["used_L"] == pytest.approx(4100.0)
    assert aboard.used("water filter", "L") == 0.0
    assert aboard.found("water filter").clears is True
    assert aboard.used("pump overhaul", "h") == pytest.approx(41 * 600 / 3600)
    with pytest.raises(CommandError, match="no service is called 'teak'"):
        aboard.watch.wish(Command("service done", "teak"), aboard.at_s, None)


def test_done_without_a_clock_counts_its_days_from_the_first_time_that_is_known() -> None:
    aboard = Aboard(utc_s=None).minutes(5)
    aboard.watch.wish(Command("service done", "sanitise the tanks"), aboard.at_s, None)
    aboard.minutes(5)
    aboard.utc_s = BEGAN_S
    aboard.minutes(1440)
    assert aboard.used("sanitise the tanks", "days") == pytest.approx(1.0, abs=0.01)


def test_everything_survives_a_restart() -> None:
    aboard = Aboard().minutes(90, {"engine speed": 2000.0}, [Aboard().run(50.0)])
    aboard.watch.wish(Command("service done", "pump overhaul"), aboard.at_s, aboard.utc_s)
    again = aboard.restarted(60.0).minutes(1)
    for counter in aboard.watch.counters():
        kept = again.counter(counter.name, counter.unit)
        assert kept.used == pytest.approx(counter.used, abs=0.01)


def test_a_service_that_is_new_in_the_settings_counts_from_now() -> None:
    old = Aboard(boat([])).minutes(60, {"engine speed": 2000.0})
    again = old.restarted(60.0, settings=boat()).minutes(60, {"engine speed": 2000.0})
    assert again.used("oil and filter", "h") == pytest.approx(1.0, abs=0.01)


def test_two_services_of_one_name_are_told_apart_by_their_subjects() -> None:
    services = [Service(name="hours", subject=s, every_h=10) for s in ("engine", "pump")]
    aboard = Aboard(boat(services)).minutes(60, {"engine speed": 2000.0})
    assert {c.name: round(c.used, 3) for c in aboard.watch.counters()} == {
        "hours, engine": 1.0,
        "hours, pump": 0.0,
    }


def test_a_new_boot_is_no_time_that_ran() -> None:
    """Elapsed time begins anew; the meter is compared by the clock."""
    aboard = Aboard().minutes(5, {"engine hours": 100.0})
    aboard.watch.new_boot()
    aboard.at_s, aboard.utc_s = 0.0, BEGAN_S + DAY_S
    aboard.minutes(5, {"engine hours": 103.0})
    assert aboard.used("oil and filter", "h") == pytest.approx(3.0)


def test_every_word_is_there() -> None:
    aboard = Aboard()
    for _ in range(3):
        aboard.minutes(60, {"engine speed": 2000.0}, [aboard.run(4000.0)])
        for finding in aboard.watch.findings():
            assert UNKNOWN not in say(finding.reason, Dress()), finding
        for estimate in aboard.watch.estimates():
            assert estimate.reason.id in SENTENCES
    ids = {f"alert: service due by {unit}" for unit in ("h", "L", "days")}
    assert ids <= set(SENTENCES)
