"""Time that is not known, time that jumps, and a watch that is restarted."""

import pytest

from monitor.clock import Anchor, Boot
from monitor.pipeline.clockwork import Clockwork
from monitor.pipeline.watch import Pipeline
from monitor.records import Frame, Message
from simulators.voyage import Voyage
from tests.pipeline.boat import START_UTC_S, Shelf, live, settings_of

NOON = 1_790_856_000.0


def clockwork() -> tuple[Clockwork, list[Anchor]]:
    anchors: list[Anchor] = []
    return Clockwork(Boot(1), anchors.append), anchors


def test_three_readings_that_agree_place_the_boot() -> None:
    clock, anchors = clockwork()

    for second in range(3):
        assert not clock.trusted
        clock.heard(100.0 + second, NOON + second, "backbone")

    assert [a.source for a in anchors] == ["backbone"]
    assert clock.utc_s(50.0) == pytest.approx(NOON - 52.0 + 2.0)


def test_impossible_dates_and_readings_that_disagree_place_nothing() -> None:
    clock, anchors = clockwork()

    for second in range(9):
        clock.heard(second, second, "1970")
        clock.heard(second, NOON + 60 * second, "leaping")
        clock.heard(second, NOON + 54 * 365.25 * 86400 + second, "2080")

    assert anchors == []


def test_a_trusted_clock_is_not_moved_by_one_liar_but_by_one_that_insists() -> None:
    clock, anchors = clockwork()
    clock.told(0.0, NOON, "crew", 2.0)

    for second in range(29):
        clock.heard(second, NOON + 86400 + second, "backbone")
    assert clock.utc_s(0.0) == NOON
    assert clock.disputed == "backbone"
    clock.heard(29, NOON + 86400 + 29, "backbone")

    assert clock.utc_s(0.0) == NOON + 86400
    assert len(anchors) == 2


def test_an_untrusted_recording_is_placed_by_the_time_of_day_in_it() -> None:
    """Elapsed time alone, as after a boot without a clock: what is counted does not differ by a bit."""
    shift_s = START_UTC_S - 960.0  # whole minutes: the minutes are cut at the same readings

    def early(item: Frame | Message) -> Frame | Message:
        return item._replace(at_s=item.at_s - shift_s)

    trusted = live("quiet-anchorage", 0.5)
    pending = live("quiet-anchorage", 0.5, change=early, trusted=False)

    boot = pending.pipeline._clockwork.boot
    assert boot.placed
    assert boot.utc_s(960.0) == pytest.approx(START_UTC_S, abs=1.0)
    ours, theirs = (
        {e.name: e.value for e in lived.pipeline.energy.trackers["house"].estimates(lived.pipeline.now_s)}
        for lived in (pending, trusted)
    )
    assert ours["charge_pct"] == pytest.approx(theirs["charge_pct"], abs=1e-9)


def test_a_restart_widens_the_band_and_repeats_no_acknowledged_alert() -> None:
    voyage = Voyage("quiet-anchorage", 1, START_UTC_S, 1.0, 5.0)
    settings = settings_of(voyage)
    items = list(voyage)
    half = len(items) // 2
    shelf = Shelf()
    first = Pipeline(settings, shelf, shelf.begin_boot("one"), recorded=True)
    first.intake(items[:half])
    first.finish(None)
    before = {e.name: e for e in first.estimates() if e.subject == "house"}["charge_pct"]
    off_s = 3 * 3600.0
    again = Pipeline(settings, shelf, shelf.begin_boot("two"), recorded=True)
    again.intake([item._replace(at_s=item.at_s + off_s) for item in items[half : half + 2000]])
    again.finish(None)
    after = {e.name: e for e in again.estimates() if e.subject == "house"}["charge_pct"]

    assert before.value is not None
    assert after.value == pytest.approx(before.value, abs=2.0)
    assert after.low is not None
    assert before.low is not None
    assert after.value is not None
    assert after.value - after.low > before.value - before.low + 1.0


def test_what_is_remembered_and_cannot_be_read_is_left_behind_and_told() -> None:
    voyage = Voyage("quiet-anchorage", 1, START_UTC_S, 0.1, 5.0)
    shelf = Shelf(recalled={"water": {"nonsense": 1}, "mode": 7, "alerts": [], "energy": {"banks": 3}})

    pipeline = Pipeline(settings_of(voyage), shelf, 1, recorded=True)
    pipeline.intake(list(voyage))

    told = {r.facts.get("what") for r in pipeline.snapshot(pipeline.now_s).troubles}
    assert told == {"water", "mode", "alerts", "energy"}
