"""What the writer is given, the history tells: placed in UTC, at every level, while it is written."""

import math
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from monitor.clock import DAY_S, HOUR_S, Anchor, Interval
from monitor.errors import StorageError
from monitor.records import Event, EventKind, Minute
from monitor.storage.history import History
from monitor.storage.writer import Writer
from tests.storage.minutes import NOON_S, change, column, minute, opened

CURRENT, VOLTAGE = "house current", "house voltage"
ALL = Interval(0.0, 1e10)


def slow_wave(at_s: float) -> float:
    return round(20 * math.sin(at_s / 500), 1)


@pytest.fixture(params=[False, True], ids=["live", "patient"])
def three_hours(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[History]:
    """A boot's minutes 30 to 209 of two channels: hours 0 to 2 full, hour 3 under way."""
    writer = opened(tmp_path / "boat.db", patient=request.param)
    assert writer.boot is not None
    for index in range(30, 210):
        writer.minute(minute(writer.boot, index, {CURRENT: slow_wave, VOLTAGE: lambda t: 13.25}))
    assert writer.flush(20)
    history = History(tmp_path / "boat.db")
    yield history
    history.close()
    writer.close()


def test_every_sample_comes_back_at_its_time(three_hours: History) -> None:
    utc_s, values = three_hours.samples(CURRENT, ALL)

    assert utc_s.tolist() == [NOON_S + at for at in range(1800, 12600)]
    assert values.tolist() == [slow_wave(at) for at in range(1800, 12600)]


def test_an_interval_has_its_start_and_not_its_end(three_hours: History) -> None:
    utc_s, _ = three_hours.samples(CURRENT, Interval(NOON_S + 3600, NOON_S + 3610))

    assert (utc_s - NOON_S).tolist() == list(range(3600, 3610))


def test_hours_are_summed_whether_packed_or_under_way(three_hours: History) -> None:
    hours = three_hours.hours(CURRENT, ALL)

    assert [hour.start_s - NOON_S for hour in hours] == [0, 3600, 7200, 10800]
    assert [hour.n for hour in hours] == [1800, 3600, 3600, 1800]
    for hour, (first, last) in zip(
        hours, [(1800, 3600), (3600, 7200), (7200, 10800), (10800, 12600)], strict=True
    ):
        said = [slow_wave(at) for at in range(first, last)]
        assert hour.integral == pytest.approx(sum(said), abs=0.02)
        assert hour.covered_s == pytest.approx(last - first)
        assert hour.mean == pytest.approx(sum(said) / len(said), abs=1e-4)
        assert (hour.low, hour.high, hour.first, hour.last) == (min(said), max(said), said[0], said[-1])


@pytest.mark.parametrize(
    ("during", "level", "count"),
    [
        (Interval(NOON_S + 3000, NOON_S + 4000), "full", 1000),
        (Interval(NOON_S, NOON_S + DAY_S), "minute", 180),
        (Interval(NOON_S, NOON_S + 365 * DAY_S), "hour", 4),
    ],
)
def test_a_plot_takes_the_level_that_fits(
    three_hours: History, during: Interval, level: str, count: int
) -> None:
    series = three_hours.series(CURRENT, during)

    assert (series.level, len(series.utc_s)) == (level, count)
    assert (np.diff(series.utc_s) > 0).all()
    assert ((series.low <= series.mean + 0.026) & (series.mean <= series.high + 0.026)).all()


def test_a_plot_has_no_more_points_than_asked_and_loses_no_extreme(three_hours: History) -> None:
    series = three_hours.series(CURRENT, Interval(NOON_S, NOON_S + 13_000), points=50)

    said = [slow_wave(at) for at in range(1800, 12600)]
    assert 30 < len(series.utc_s) <= 50
    assert (series.low.min(), series.high.max()) == (min(said), max(said))


def test_what_nobody_ever_said_is_empty(three_hours: History) -> None:
    utc_s, values = three_hours.samples("no such channel", ALL)

    assert (len(utc_s), len(values), three_hours.hours("no such channel", ALL)) == (0, 0, [])
    assert len(three_hours.series("no such channel", ALL).utc_s) == 0


def test_channels_are_listed(three_hours: History) -> None:
    assert three_hours.channels() == [CURRENT, VOLTAGE]


def test_a_gap_stays_a_gap_and_not_available_stays_not_available(tmp_path: Path) -> None:
    writer = opened(tmp_path / "boat.db")
    said = column([0.0, 1.0, 50.0], [1.0, float("nan"), 3.0])
    writer.minute(Minute(1, 0, {CURRENT: said}, {}))
    writer.close()

    utc_s, values = History(tmp_path / "boat.db").samples(CURRENT, ALL)

    assert (utc_s - NOON_S).tolist() == [0.0, 1.0, 50.0]
    np.testing.assert_array_equal(values, [1.0, float("nan"), 3.0])


def test_a_boot_without_trusted_time_waits_and_its_first_anchor_places_it_all(tmp_path: Path) -> None:
    writer = Writer(tmp_path / "boat.db")
    writer.open()
    boot = writer.begin_boot("no clock")
    for index in range(90):
        writer.minute(minute(boot, index, {CURRENT: lambda t: t % 7}))
    writer.event(Event(EventKind.PUMP_RUN, "fresh water", boot, 100.04, 109.31, {"litres": 1.2}))
    assert writer.flush(20)
    history = History(tmp_path / "boat.db")
    assert len(history.samples(CURRENT, ALL)[0]) == 0
    (pending,) = history.events(None, Interval(NOON_S, NOON_S + 1))
    assert pending.start_utc_s is None

    writer.anchor(boot, Anchor(5000.0, NOON_S, "bus", 0.5))
    assert writer.flush(20)

    utc_s, values = history.samples(CURRENT, ALL)
    assert (utc_s[0], utc_s[-1]) == (NOON_S - 5000, NOON_S + 399)
    assert values.tolist() == [t % 7 for t in range(5400)]
    (placed,) = history.events(EventKind.PUMP_RUN, Interval(NOON_S - 5000, NOON_S))
    assert placed.start_utc_s == pytest.approx(NOON_S - 4899.96)
    assert placed.end_utc_s == pytest.approx(NOON_S - 4890.69)
    writer.close()


def test_two_anchors_stretch_the_boot_between_them(tmp_path: Path) -> None:
    # An oscillator 100 ppm slow: 1 s in 10,000 s.
    writer = opened(tmp_path / "boat.db")
    writer.anchor(1, Anchor(10_000.0, NOON_S + 10_001.0, "bus", 0.1))
    for index in range(84):
        writer.minute(minute(1, index, {CURRENT: lambda t: 1.0}))
    writer.close()

    utc_s, _ = History(tmp_path / "boat.db").samples(CURRENT, ALL)

    assert utc_s[5000] == pytest.approx(NOON_S + 5000.5)


def test_boots_follow_each_other_in_utc(tmp_path: Path) -> None:
    for number, kernel_id in enumerate(("first", "second"), 1):
        writer = Writer(tmp_path / "boat.db")
        writer.open()
        assert writer.begin_boot(kernel_id) == number == writer.boot
        writer.anchor(number, Anchor(0.0, NOON_S + 5000 * (number - 1), "bus", 0.5))
        for index in range(61):
            writer.minute(minute(number, index, {CURRENT: (lambda t: 1.0, lambda t: 2.0)[number - 1]}))
        writer.close()

    history = History(tmp_path / "boat.db")
    utc_s, values = history.samples(CURRENT, ALL)

    assert [boot.number for boot in history.boots()] == [1, 2]
    assert (np.diff(utc_s) > 0).all()
    assert values.tolist() == [1.0] * 3660 + [2.0] * 3660
    # The hour the first boot left unfinished was packed by the second.
    assert [hour.n for hour in history.hours(CURRENT, ALL)] == [3600, 60, 3600, 60]


def test_a_restart_within_a_boot_goes_on_where_it_stopped(tmp_path: Path) -> None:
    for indices in (range(10), range(9, 70)):
        writer = opened(tmp_path / "boat.db")
        assert writer.boot == 1
        for index in indices:
            writer.minute(minute(1, index, {CURRENT: lambda t: 2.0}))
        writer.close()

    utc_s, _ = History(tmp_path / "boat.db").samples(CURRENT, ALL)

    # The minute that was stopped in the middle stands with both its halves.
    assert sorted(set((utc_s - NOON_S).tolist())) == list(range(70 * 60))
    assert len(utc_s) == 71 * 60


def test_events_keep_their_exact_times_and_an_end_is_added_to_its_event(tmp_path: Path) -> None:
    writer = opened(tmp_path / "boat.db")
    writer.event(Event(EventKind.PUMP_RUN, "fresh water", 1, 10.125, None, {}))
    writer.event(Event(EventKind.NOTE, "boat", 1, 12.0, None, {"text": "Rías: ñ 水"}))
    writer.event(Event(EventKind.PUMP_RUN, "fresh water", 1, 10.125, 13.875, {"lone": True}))
    writer.close()

    history = History(tmp_path / "boat.db")

    (run,) = history.events(EventKind.PUMP_RUN, ALL)
    assert run.event == Event(EventKind.PUMP_RUN, "fresh water", 1, 10.125, 13.875, {"lone": True})
    assert (run.start_utc_s, run.end_utc_s) == (NOON_S + 10.125, NOON_S + 13.875)
    assert [dated.event.kind for dated in history.events(None, ALL)] == [EventKind.PUMP_RUN, EventKind.NOTE]
    assert history.events(None, ALL)[1].event.facts == {"text": "Rías: ñ 水"}
    assert history.events(None, Interval(NOON_S + 13.0, NOON_S + 14.0)) == [run]
    assert history.events(None, Interval(NOON_S + 14.0, NOON_S + 15.0)) == []


def test_alert_changes_are_on_the_card_when_that_is_said(tmp_path: Path) -> None:
    writer = opened(tmp_path / "boat.db")
    history = History(tmp_path / "boat.db")

    assert writer.alerts([change(1)], timeout_s=20)

    assert history.alert_changes() == [(change(1), NOON_S + 60.0)]
    assert history.alert_changes(Interval(NOON_S, NOON_S + 60)) == []
    writer.close()


@pytest.mark.parametrize("patient", [False, True])
def test_what_was_remembered_and_the_newest_state_are_recalled(tmp_path: Path, patient: bool) -> None:
    writer = opened(tmp_path / "boat.db", patient=patient)
    writer.remember("mode", {"place": "sailing"})
    writer.remember("mode", {"place": "at anchor"})
    for index in range(130):
        writer.minute(
            minute(1, index, {CURRENT: lambda t: 1.0}, state={"charge": {"mean_Wh": 100.0 + index}})
        )
    writer.close()

    again = opened(tmp_path / "boat.db")
    assert again.recall() == {"mode": {"place": "at anchor"}, "charge": {"mean_Wh": 229.0}}
    again.close()


def test_minutes_in_which_nothing_was_said_still_carry_the_state(tmp_path: Path) -> None:
    writer = opened(tmp_path / "boat.db")
    for index in range(61):
        writer.minute(Minute(1, index, {}, {"charge": index}))
    writer.close()

    assert History(tmp_path / "boat.db").recall() == {"charge": 60}


def test_full_resolution_is_kept_as_long_as_asked_and_minutes_longer(tmp_path: Path) -> None:
    writer = opened(tmp_path / "boat.db", keep_full_days=2, patient=True)
    for index in range(0, 5 * 1440, 20):
        writer.minute(minute(1, index, {CURRENT: lambda t: t // HOUR_S}, every_s=20))
    writer.close()
    history = History(tmp_path / "boat.db")

    utc_s, _ = history.samples(CURRENT, ALL)
    first_day = Interval(NOON_S, NOON_S + 1800)

    # Dropped by whole hours as each new hour is packed: two days before the last full one.
    assert (utc_s[0] - NOON_S) // HOUR_S == 5 * 24 - 2 - 48
    assert history.series(CURRENT, first_day).level == "minute"
    assert len(history.hours(CURRENT, ALL)) == 120
    assert len(history.series(CURRENT, Interval(NOON_S, NOON_S + 5 * DAY_S)).utc_s) == 360


def test_nothing_is_dropped_while_the_time_is_unknown(tmp_path: Path) -> None:
    writer = Writer(tmp_path / "boat.db", keep_full_days=2, patient=True)
    writer.open()
    boot = writer.begin_boot("no clock")
    for index in range(0, 5 * 1440, 60):
        writer.minute(minute(boot, index, {CURRENT: lambda t: 1.0}, every_s=20))
    assert writer.flush(20)
    writer.anchor(boot, Anchor(0.0, NOON_S, "crew", 2.0))
    writer.close()

    utc_s, _ = History(tmp_path / "boat.db").samples(CURRENT, ALL)

    assert utc_s[0] == NOON_S


def test_a_store_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match=r"no store at .*boat\.db"):
        History(tmp_path / "boat.db").boots()


def test_a_reader_cannot_write(three_hours: History) -> None:
    with pytest.raises(StorageError, match="readonly"), three_hours._reading() as connection:
        connection.execute("DELETE FROM boots")
