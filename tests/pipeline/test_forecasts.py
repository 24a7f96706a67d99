"""The forecasts of the energy desk: what they take in, what they keep, what a restart finds again."""

import json
from array import array
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any, cast

import pytest

from monitor.clock import DAY_S, HOUR_S, MINUTE_S, Interval
from monitor.estimation.charge import ChargeTracker
from monitor.estimation.passage import stand_at
from monitor.pipeline.forecasts import EnergyForecasts
from monitor.pipeline.power import MinuteSum
from monitor.pipeline.recall import kept_hours
from monitor.pipeline.sunlight import Sunlight
from monitor.records import Column, Event, EventKind, Mode
from monitor.settings import Settings
from monitor.storage.history import Dated, History
from monitor.storage.series import Hour

HERE = (42.55, -8.9)
NOON_S = datetime(2026, 6, 10, 12, tzinfo=UTC).timestamp()
MIDNIGHT_S = NOON_S + 12 * HOUR_S
AWAKE = Mode("at anchor", "awake")


def boat() -> Settings:
    return Settings.model_validate(
        {
            "boat": {"name": "Test", "latitude": HERE[0], "longitude": HERE[1]},
            "banks": [{"name": "house", "capacity_Ah": 460.0}],
            "chargers": [
                {"name": "sun", "kind": "sun", "into": "house"},
                {"name": "alternator", "kind": "alternator", "into": "house"},
            ],
        }
    )


def steady(value: float, start_s: float = 0.0) -> Column:
    return Column(array("d", [start_s + n for n in range(60)]), array("d", [value] * 60))


# ---- the sun's minute


def test_the_sun_is_summed_from_its_own_meters() -> None:
    """120 W for a minute are 2 Wh, 10 A at 13.2 V 2.2 Wh (own arithmetic); other chargers do not count."""
    by_power = {"sun power": steady(120.0), "alternator power": steady(600.0)}
    by_current = {"sun current": steady(10.0), "sun voltage": steady(13.2)}

    assert Sunlight(boat()).Wh(by_power, 0.0, NOON_S, HERE) == pytest.approx(2.0)
    assert Sunlight(boat()).Wh(by_current, 0.0, NOON_S, HERE) == pytest.approx(2.2)


def test_a_silent_sun_meter_is_unknown_by_day_and_nothing_by_night() -> None:
    silent: Mapping[str, Column] = {}

    assert Sunlight(boat()).Wh(silent, 0.0, NOON_S, HERE) is None
    assert Sunlight(boat()).Wh(silent, 0.0, MIDNIGHT_S, HERE) == 0.0
    no_array = boat().model_copy(update={"chargers": []})
    assert Sunlight(no_array).Wh({"sun power": steady(120.0)}, 0.0, NOON_S, HERE) is None


@pytest.mark.parametrize(("volts", "full"), [(13.3, False), (13.8, True), (14.2, True)])
def test_at_its_full_voltage_a_bank_takes_what_it_pleases(volts: float, full: bool) -> None:
    """Four cells of 3.45 V: from 13.8 V on. Before the first full charge the count tells nothing."""
    settings = boat()
    trackers = {"house": ChargeTracker(settings.banks[0])}

    assert Sunlight(settings).full({"house voltage": steady(volts)}, trackers, 60.0) is full
    assert not Sunlight(settings).full({}, trackers, 60.0)


def test_on_float_a_bank_still_takes_what_it_pleases() -> None:
    """A charger that was at the full voltage goes to float, some 13.5 V: the sun is held back all the same,
    until the bank takes more than a tail (4 % of 460 Ah: 18.4 A) again."""
    settings = boat()
    tracker = ChargeTracker(settings.banks[0])
    state = tracker.state()
    state["anchored"] = True
    state["count"]["mean"][0] = 0.06 * 460.0
    state["count"]["cov"][0][0] = 1.0
    tracker.restore(state)
    sunlight, trackers = Sunlight(settings), {"house": tracker}

    def full(volts: float, amps: float) -> bool:
        return sunlight.full({"house voltage": steady(volts), "house current": steady(amps)}, trackers, 60.0)

    assert [full(13.5, 0.0), full(14.2, 10.0), full(13.5, 0.0), full(13.4, 25.0), full(13.5, 0.0)] == [
        False, True, True, False, False,
    ]  # fmt: skip


# ---- forecasts and what comes of them


def lived(forecasts: EnergyForecasts, from_s: float, hours: float, left_Wh: float = 4000.0) -> list[Event]:
    """So many hours of 100 W used and nothing made, in minutes."""
    found = []
    for n in range(round(hours * 60)):
        heard = MinuteSum(n * 60.0, -100 / 60, 0.0, False, MINUTE_S)
        for outcome in forecasts.minute(from_s + n * 60.0, AWAKE, heard, 0.0, False, left_Wh):
            found.append(forecasts.outcome(outcome, 1, n * 60.0))
    return found


def drawn(forecasts: EnergyForecasts, utc_s: float, at_s: float, left_Wh: float = 4000.0) -> list[Event]:
    return list(forecasts.draw(utc_s, at_s, [(left_Wh, 50.0)], HERE, AWAKE, 1))


def test_a_forecast_is_kept_every_six_hours_with_its_course_in_a_kilobyte() -> None:
    forecasts = EnergyForecasts(boat())
    lived(forecasts, MIDNIGHT_S, 1)

    kept = [drawn(forecasts, MIDNIGHT_S + n * 1800.0, n * 1800.0) for n in range(13)]

    assert [len(events) for events in kept] == [1] + 11 * [0] + [1]
    (event,) = kept[0]
    assert (event.kind, event.subject) == (EventKind.FORECAST, "energy")
    assert len(json.dumps(event.facts)) < 1024
    assert event.facts["none_cautious_days"] <= event.facts["none_likely_days"]


def test_what_came_of_it_is_told_when_as_much_has_been_used() -> None:
    """2000 Wh above the reserve of 1177.6 Wh at 100 W: 20 hours (own arithmetic)."""
    forecasts = EnergyForecasts(boat())
    lived(forecasts, MIDNIGHT_S, 1)
    drawn(forecasts, MIDNIGHT_S + HOUR_S, HOUR_S, 3177.6)

    told = [e for e in lived(forecasts, MIDNIGHT_S + HOUR_S, 21) if not e.facts["charging"]]

    (event,) = told
    assert event.kind is EventKind.OUTCOME
    assert event.facts["truth_days"] == pytest.approx(20 / 24, abs=0.01)
    assert event.facts["made_at"] == MIDNIGHT_S + HOUR_S
    assert event.facts["held"] is (event.facts["truth_days"] >= event.facts["cautious_days"])


def test_alongside_the_shore_carries_the_boat_before_there_is_a_history() -> None:
    """With the shore no day is in sight; if it failed, 2822 Wh above the reserve last some 1.6 days of the
    1800 Wh that the settings take for usual (own arithmetic), likely."""
    forecasts = EnergyForecasts(boat())
    list(forecasts.draw(NOON_S, 0.0, [(4000.0, 50.0)], HERE, Mode("alongside", "awake"), 1))

    assert forecasts.charging is not None
    assert forecasts.autonomy is not None
    assert forecasts.charging.beyond
    assert forecasts.charging.cautious_days > 5
    assert forecasts.autonomy.likely_days == pytest.approx(1.57, abs=0.15)


def test_dawn_and_the_lowest_charge_are_read_off_the_course() -> None:
    """On 11 June at 42.55 N 8.9 W the sun rises at 04:57 UTC (NREL algorithm by pvlib: within a minute of
    it), and with nothing made by then the night's lowest is not before."""
    forecasts = EnergyForecasts(boat())
    drawn(forecasts, MIDNIGHT_S, 0.0)

    found = {e.name: e for e in forecasts.estimates(0.0)}

    dawn, least = found["dawn_pct"], found["lowest_pct"]
    rise_s = MIDNIGHT_S + 4 * HOUR_S + 57 * MINUTE_S
    assert dawn.reason.facts["moment_s"] == pytest.approx(rise_s, abs=120.0)
    assert forecasts.charging is not None
    stand = stand_at(forecasts.charging.course, dawn.reason.facts["moment_s"])
    assert stand is not None
    assert dawn.value == pytest.approx(100 * stand.likely / 5888)
    for told in (dawn, least):
        assert told.value is not None
        assert told.low is not None
        assert told.high is not None
        assert told.low < told.value < told.high
    assert least.value is not None
    assert dawn.value is not None
    assert least.value <= dawn.value
    assert found["forecast_hits"].value is None


def test_while_the_charge_is_unknown_so_is_every_day() -> None:
    forecasts = EnergyForecasts(boat())

    assert list(forecasts.draw(MIDNIGHT_S, 0.0, [None], HERE, AWAKE, 1)) == []
    assert {e.value for e in forecasts.estimates(0.0)} == {None}


# ---- restarts


class Stored:
    """As much of a history as the hours of use ask of it: one kept hour by hour."""

    def __init__(self, watts: Mapping[str, float], start_s: float, hours: int) -> None:
        self._watts, self._start_s, self._hours = watts, start_s, hours

    def events(self, kind: EventKind, during: Interval) -> list[Dated]:
        mode = {"place": "at anchor", "people": "away"}
        return [Dated(Event(EventKind.MODE, "boat", 1, 0.0, None, mode), during.start_s, None)]

    def hours(self, channel: str, during: Interval) -> list[Hour]:
        w = self._watts.get(channel)
        if w is None:
            return []
        return [
            Hour(self._start_s + n * HOUR_S, 60, w, w, w, w * HOUR_S, HOUR_S, w, w)
            for n in range(self._hours)
        ]


def test_stored_hours_of_a_boot_are_shared_between_the_hours_of_utc() -> None:
    """A boot that began at twenty past: each of its hours is two thirds of one of UTC, and a third."""
    stored: Any = Stored({"boat water used": 0.1}, MIDNIGHT_S + 1200.0, 2)

    found = list(kept_hours(cast(History, stored), "boat water used", MIDNIGHT_S + DAY_S))

    assert [h.covered_s for h in found] == pytest.approx([2400.0, 1200.0, 2400.0, 1200.0])
    assert [h.start_s - MIDNIGHT_S for h in found] == [1200.0, 3600.0, 4800.0, 7200.0]
    assert {h.mode.people for h in found} == {"away"}


def test_a_restart_finds_use_sun_and_full_hours_again() -> None:
    """60 W net with 100 W made, 80 W of them sun, a quarter of the time at full: 40 Wh are used an hour."""
    watts = {"net power": 60.0, "made power": 100.0, "sun power": 80.0, "bank full": 0.25}
    stored: Any = Stored({f"house {what}": w for what, w in watts.items()}, MIDNIGHT_S, 24)
    forecasts = EnergyForecasts(boat())

    forecasts.prefill(cast(History, stored), MIDNIGHT_S + DAY_S)

    days = forecasts.use.days(MIDNIGHT_S + DAY_S, "at anchor", aboard=False)
    assert days.age.tolist() == [1]
    for amounts, each in ((days.used, 40.0), (days.made, 100.0), (days.sun, 80.0), (days.full, 0.25)):
        assert amounts[0] == pytest.approx(each)
