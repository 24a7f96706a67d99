"""Frost where nobody is aboard."""

import json
from array import array
from datetime import UTC, datetime

import pytest

from monitor.estimation.freezing import FreezeWatch
from monitor.estimation.watcher import Heard, WaterHeard
from monitor.records import Column, Event, EventKind, Finding, Mode, Reading, Severity
from monitor.settings import Boat, Feed, Heater, Instrument, Limits, MqttSource, Settings, Tank
from monitor.words.say import SENTENCES, say
from monitor.words.units import UNKNOWN, Dress

NIGHT_S = datetime(2026, 12, 20, 22, tzinfo=UTC).timestamp()
FREEZES_C = 0.0
"""Fresh water at the surface: 0.0025 °C (TEOS-10, air-free)."""


def thermometer(name: str, **more: int) -> Instrument:
    return Instrument(name=name, feeds=[Feed(source="broker", topic=name, quantity="temperature", **more)])


def boat(*names: str, limit_C: float = 3.0) -> Settings:
    return Settings(
        boat=Boat(name="Test"),
        sources=[MqttSource(kind="mqtt", name="broker")],
        instruments=[thermometer(name) for name in names],
        tanks=[Tank(name="forward", capacity_L=100)],
        heaters=[Heater(name="heater", volume_L=40)],
        limits=Limits(freezing_C=limit_C),
    )


class Aboard:
    def __init__(self, settings: Settings, people: str = "laid up", utc_s: float | None = NIGHT_S) -> None:
        self.watch = FreezeWatch(settings)
        self.people = people
        self.at_s = 0.0
        self.utc_s = utc_s
        self.readings: dict[str, Reading] = {}
        self.water = WaterHeard()

    def minute(self, **celsius: float | list[float]) -> "Aboard":
        columns = {}
        for name, told in celsius.items():
            values = told if isinstance(told, list) else [told]
            columns[f"{name} temperature"] = Column(array("d", [self.at_s] * len(values)), array("d", values))
            self.readings[f"{name} temperature"] = Reading(self.at_s, values[-1], False)
        mode = Mode("alongside", self.people)
        heard = Heard(self.at_s, self.utc_s, 1, columns, dict(self.readings), mode, {}, water=self.water)
        self.watch.take(heard)
        self.at_s += 60.0
        self.utc_s = None if self.utc_s is None else self.utc_s + 60.0
        return self

    def hours(self, count: float, first_C: float, K_per_h: float) -> "Aboard":
        for n in range(round(60 * count)):
            self.minute(cabin=first_C + K_per_h * n / 60)
        return self

    def found(self) -> Finding:
        (finding,) = self.watch.findings()
        assert (finding.rule, finding.subject) == ("plumbing may freeze", "water")
        return finding

    def says(self) -> str:
        return say(self.found().reason, Dress()).replace("\u00a0", " ")


@pytest.mark.parametrize("people", ["laid up", "away"])
def test_below_the_limit_it_warns_and_near_freezing_it_alarms(people: str) -> None:
    """Common practice: frost is told from 2 or 3 °C down, for the coldest pipe is colder than the cabin."""
    for celsius, holds, clears, severity in (
        (8.0, False, True, None),
        (3.5, False, False, None),
        (2.9, True, False, None),
        (0.9, True, False, Severity.ALARM),
        (FREEZES_C, True, False, Severity.ALARM),
        (-9.0, True, False, Severity.ALARM),
    ):
        found = Aboard(boat("cabin"), people).minute(cabin=celsius).found()
        assert (found.holds, found.clears, found.severity) == (holds, clears, severity), celsius


@pytest.mark.parametrize("people", ["awake", "asleep"])
def test_with_somebody_aboard_it_is_theirs_to_feel(people: str) -> None:
    found = Aboard(boat("cabin"), people).minute(cabin=-2.0).found()
    assert (found.holds, found.clears) == (False, True)


def lived_in(hours: float, run_s: float | None, heard: bool = True) -> Aboard:
    """Awake by the settings, with a run of the pump every six hours; one refill takes 2.25 s."""
    aboard = Aboard(boat("cabin"), "awake")
    for n in range(round(60 * hours)):
        length_s = None if n % 360 else run_s
        runs = (
            ()
            if length_s is None
            else (Event(EventKind.PUMP_RUN, "pump", 0, aboard.at_s, aboard.at_s + length_s),)
        )
        aboard.water = WaterHeard(runs, {"pump": 0.0 if heard else None}, refill_s={"pump": 2.25})
        aboard.minute(cabin=1.5)
    return aboard


@pytest.mark.parametrize(
    ("run_s", "heard", "holds"),
    [(None, True, True), (2.3, True, True), (9.0, True, False), (None, False, False)],
)
def test_a_boat_whose_crew_forgot_to_say_that_they_left(
    run_s: float | None, heard: bool, holds: bool
) -> None:
    """Where nobody has drawn water for a day nobody is aboard: refills of a leak or a cooling heater are no
    draws, and of a pump that is not heard nothing follows."""
    assert lived_in(23, run_s, heard).found().holds is False
    assert lived_in(25, run_s, heard).found().holds is holds


def test_unknown_is_not_fine() -> None:
    """Before the first minute, without a thermometer, and while one of several is silent."""
    assert FreezeWatch(boat("cabin")).findings()[0].holds is None
    assert Aboard(boat()).minute().found().holds is None
    aboard = Aboard(boat("cabin", "bilge")).minute(cabin=8.0, bilge=7.0)
    assert aboard.found().clears is True
    aboard.readings["bilge temperature"] = Reading(0.0, 7.0, True)
    assert (aboard.minute(cabin=8.0).found().holds, aboard.found().clears) == (None, None)
    assert aboard.minute(cabin=1.5).found().holds is True


def test_the_coldest_place_counts_of_cabins_tanks_and_heaters() -> None:
    aboard = Aboard(boat("cabin")).minute(cabin=9.0, forward=2.0, heater=14.0)
    assert aboard.found().holds is True
    assert "2 °C at the forward" in aboard.says()
    (estimate,) = aboard.watch.estimates()
    assert (estimate.name, estimate.value) == ("coldest_C", 2.0)


def test_a_freezer_and_the_sea_are_no_plumbing() -> None:
    """By name, or by the source code of the temperature message: 13 is a freezer, 4 the main cabin."""
    aboard = Aboard(boat("cabin", "freezer", "sea", "exhaust gas")).minute(cabin=9.0, freezer=-18.0, sea=2.0)
    assert (aboard.found().holds, aboard.found().clears) == (False, True)
    coded = boat("cabin").model_copy(
        update={"instruments": [thermometer("cabin", code=4), thermometer("box", code=13)]}
    )
    cold = Aboard(coded).minute(cabin=9.0, box=-18.0)
    assert (cold.found().holds, cold.found().clears) == (False, True)


def test_one_wrong_reading_in_a_minute_is_no_frost() -> None:
    aboard = Aboard(boat("cabin")).minute(cabin=[8.0, 8.1, -45.0, 8.0, 8.0])
    assert aboard.found().holds is False


def test_hours_to_freezing_by_the_slope_of_six_hours() -> None:
    """From 8 °C half a degree an hour: after ten hours it is 3.0 °C, and freezes six hours later."""
    aboard = Aboard(boat("cabin", limit_C=4.0)).hours(10, 8.0, -0.5)
    facts = aboard.found().reason.facts
    assert facts["ice_s"] == pytest.approx(6 * 3600, rel=0.02)
    assert "at freezing in 6 h" in aboard.says()


def test_only_the_last_six_hours_tell_how_it_falls() -> None:
    """It warmed all day, and falls a degree an hour since six hours and a half."""
    aboard = Aboard(boat("cabin", limit_C=9.0)).hours(12, 2.0, 1.0).hours(6.6, 14.0, -1.0)
    now_C = aboard.found().reason.facts["celsius"]
    assert aboard.found().reason.facts["ice_s"] == pytest.approx(now_C * 3600, rel=0.02)


def test_what_does_not_fall_has_no_hour_and_without_a_clock_none_is_told() -> None:
    assert Aboard(boat("cabin")).hours(8, 1.0, 0.2).found().reason.facts["ice_s"] is None
    blind = Aboard(boat("cabin"), utc_s=None).hours(8, 6.0, -0.5)
    assert blind.found().holds is True
    assert blind.found().reason.facts["ice_s"] is None


def test_an_evening_that_cools_is_no_coming_frost() -> None:
    """From 18 °C a degree an hour: freezing in 12 h and more is beyond what the line can tell."""
    aboard = Aboard(boat("cabin")).hours(5, 18.0, -1.0)
    assert aboard.watch.estimates()[0].reason.id == "coldest place"


def test_the_slope_survives_a_restart_but_not_a_month_off() -> None:
    aboard = Aboard(boat("cabin")).hours(6, 5.0, -0.5)
    kept = json.dumps(aboard.watch.state())
    assert len(kept) < 2000

    soon = Aboard(boat("cabin"), utc_s=(aboard.utc_s or 0.0) + 600)
    soon.watch.restore(json.loads(kept))
    assert soon.watch.findings()[0].holds is None
    assert soon.minute(cabin=1.9).found().reason.facts["ice_s"] == pytest.approx(1.9 / 0.5 * 3600, rel=0.05)

    late = Aboard(boat("cabin"), utc_s=(aboard.utc_s or 0.0) + 30 * 86400)
    late.watch.restore(json.loads(kept))
    assert late.minute(cabin=1.9).found().reason.facts["ice_s"] is None


def test_a_new_boot_knows_nothing_until_it_hears() -> None:
    aboard = Aboard(boat("cabin")).minute(cabin=9.0)
    aboard.watch.new_boot()
    assert aboard.found().holds is None


def test_the_words_drain_in_the_order_of_the_trade_and_never_heat_dry() -> None:
    """Laying up: accumulator first, tank, heater with its element off, pump, bowls. Common practice."""
    text = SENTENCES["plumbing may freeze: do"]
    order = ["accumulator", "tanks", "water heater", "OFF", "pump", "bowls of strainers"]
    places = [text.index(word) for word in order]
    assert places == sorted(places)
    assert "never on while it is empty" in text
    for celsius in (9.0, 2.0, -3.0):
        said = Aboard(boat("cabin")).minute(cabin=celsius).says()
        assert UNKNOWN not in said
