"""The lines of the watch: when each is due, and what it says, by hand."""

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from monitor.clock import DAY_S, HOUR_S, MINUTE_S
from monitor.pipeline.lines import LineKeeper, guests, handover, house_net_W, morning
from monitor.pipeline.watch import Pipeline
from monitor.records import (
    ChargeOption,
    ChargePlan,
    Course,
    Ebb,
    Estimate,
    Mode,
    NightLedger,
    Notice,
    OpenAlert,
    PowerPicture,
    Reading,
    Reason,
    Severity,
    Share,
    Snapshot,
    Way,
)
from monitor.settings import Inverter, Supply
from monitor.words.say import say
from monitor.words.units import Dress
from tests.alerts.boat import SETTINGS
from tests.pipeline.boat import Shelf

ATHENS = ZoneInfo("Europe/Athens")
SHIP = SETTINGS.model_copy(update={"boat": SETTINGS.boat.model_copy(update={"time_zone": "Europe/Athens"})})
ASLEEP, AWAKE = Mode("at anchor", "asleep"), Mode("at anchor", "awake")
SAILING = Mode("sailing", "awake")


def at(hour: int, minute: int = 0, day: int = 10) -> float:
    """UTC of a time of the ship's clock, in June 2026: Athens is three hours ahead."""
    return datetime(2026, 6, day, hour, minute, tzinfo=ATHENS).timestamp()


def test_the_ships_clock_is_three_hours_ahead() -> None:
    assert at(7) % DAY_S == 4 * HOUR_S


# ---- when


def test_the_morning_line_comes_once_on_waking() -> None:
    keeper = LineKeeper(SHIP)
    assert keeper.due(at(2), ASLEEP) == ()
    assert keeper.due(at(7), AWAKE) == ("morning",)
    assert keeper.due(at(7, 1), AWAKE) == ()
    assert keeper.due(at(14), ASLEEP) == ()
    assert keeper.due(at(15), AWAKE) == ()  # A nap: once a day.
    assert keeper.due(at(3, day=11), ASLEEP) == ()
    assert keeper.due(at(7, day=11), AWAKE) == ("morning",)


def test_whoever_rises_before_four_is_told_at_four() -> None:
    keeper = LineKeeper(SHIP)
    keeper.due(at(2), ASLEEP)
    assert keeper.due(at(3, 30), AWAKE) == ()
    assert keeper.due(at(4), AWAKE) == ("morning",)


def test_no_morning_under_way_nor_after_a_time_away_nor_without_a_clock() -> None:
    keeper = LineKeeper(SHIP)
    keeper.due(at(2), ASLEEP)
    assert keeper.due(None, AWAKE) == ()
    assert "morning" not in keeper.due(at(7), SAILING)
    keeper.due(at(2, day=11), ASLEEP)
    keeper.due(at(8, day=11), Mode("at anchor", "away"))
    assert keeper.due(at(18, day=11), AWAKE) == ()


def test_each_change_of_watch_under_way_once() -> None:
    keeper = LineKeeper(SHIP)
    told = [n for n in range(24 * 60) if "handover" in keeper.due(at(1) + n * MINUTE_S, SAILING)]
    assert [n / 60 + 1 for n in told] == [4, 8, 12, 16, 20, 24]


def test_none_at_anchor_and_none_for_one_long_past() -> None:
    keeper = LineKeeper(SHIP)
    keeper.due(at(7), AWAKE)
    assert keeper.due(at(8), AWAKE) == ()
    assert keeper.due(at(9), SAILING) == ()
    assert keeper.due(at(12, 11), SAILING) == ()  # Nobody looked from 9 to 12:11.


def test_never_twice_after_a_restart() -> None:
    keeper = LineKeeper(SHIP)
    keeper.due(at(3), ASLEEP)
    again = LineKeeper(SHIP)
    again.restore(keeper.state())
    assert again.due(at(7), AWAKE) == ("morning",)
    once_more = LineKeeper(SHIP)
    once_more.restore(again.state())
    assert once_more.due(at(7, 1), AWAKE) == ()
    once_more.due(at(7, 59), SAILING)
    assert once_more.due(at(8), SAILING) == ("handover",)
    last = LineKeeper(SHIP)
    last.restore(once_more.state())
    assert last.due(at(8, 1), SAILING) == ()


class Heard:
    """A way out that keeps what it is handed."""

    def __init__(self) -> None:
        self.notices: list[Notice] = []

    def post(self, notices: Sequence[Notice]) -> None:
        pass

    def hand(self, notices: Sequence[Notice]) -> None:
        self.notices += [n for n in notices if n.kind in ("morning", "handover")]

    def ways(self) -> tuple[Way, ...]:
        return ()


def test_the_watch_hands_it_out_once_and_not_again_after_a_restart() -> None:
    """The people sleep from 23 to 7 by the settings: the minute that begins at 7 is the first awake."""
    shelf, told = Shelf(), Heard()
    watch = Pipeline(SHIP, shelf, 1, recorded=True, teller=told)
    for n in range(-3, 4):
        watch.tick(at(7) + n * MINUTE_S)
    again = Pipeline(SHIP, shelf, 2, recorded=True, teller=told)
    for n in range(4, 8):
        again.tick(at(7) + n * MINUTE_S)
    assert [(n.kind, n.utc_s, n.reason.id) for n in told.notices] == [("morning", at(7, 1), "line: morning")]


# ---- what


def night() -> NightLedger:
    by = (Share("fridge", 190.0, 0.9), Share("", 120.0, 0.5, load="k1"), Share("anchor light", 30.0, 1.0))
    return NightLedger(
        at(21, day=9), at(6), 412.0, 0.0, -412.0, by, 72.0, 14.0, {}, 3, 72.0, 63.0, 0.0, False
    )  # fmt: skip


def snapshot(**given: object) -> Snapshot:
    now_s = at(7)
    hours = tuple(now_s + n * HOUR_S for n in range(24))
    wh = tuple(min(5120.0, 3000.0 + 300.0 * n) for n in range(24))
    values = {
        "house voltage": Reading(0.0, 13.0, False),
        "house current": Reading(0.0, -10.0, False),
        "pump running": Reading(0.0, 0.0, False),
    }
    estimates = [
        Estimate("charge_pct", "house", 0.0, 63.0, 61.0, 66.0, Reason("x")),
        Estimate("dawn_pct", "house", 0.0, 50.0, 44.0, 60.0, Reason("x")),
        Estimate("water_days", "water", 0.0, 8.0, 6.2, 9.0, Reason("x")),
    ]
    told = Snapshot(
        1, 0.0, now_s, True, values, {(e.name, e.subject): e for e in estimates},
        (Ebb("energy", "house", Course((), (), (), ()), Course(hours, wh, wh, wh), 1024.0, 5120.0),),
        (OpenAlert("a", "low water", "water", Severity.WARNING, "active", 0.0, Reason("x")),),
        (), AWAKE, (night(),), ((at(21), at(6, day=11)),), (),
    )  # fmt: skip
    return replace(told, **given)  # type: ignore[arg-type]


def spoken(reason: Reason) -> str:
    return " ".join(say(reason, Dress(zone=ATHENS)).split())


def test_the_morning_line() -> None:
    """3000 Wh and 300 Wh an hour: 98 % of 5120 Wh are 5018 Wh, passed in the seventh hour, at 14:00."""
    line = spoken(morning(snapshot(), SHIP))
    assert line == (
        "The house bank at 61 to 66 %; 412 Wh used overnight, 190 Wh of it by the fridge; 14 L of water;"
        " 3 pump starts; the sun may fill it about 14:00; Water low."
    )
    assert len(line.split()) <= 45


def test_the_morning_line_says_what_must_be_done() -> None:
    option = ChargeOption("alternator", "alternator", 900.0, True, 70.0, None, 30.0, True)
    plan = ChargePlan(True, at(6, day=11), 15.0, 20.0, (option,), Reason("x"))
    line = spoken(morning(snapshot(power=PowerPicture(plan=plan), alerts=()), SHIP))
    assert line.endswith("charge today: alternator, 1 h 10 min; no alert is open.")
    assert "sun" not in line


def test_the_morning_line_guesses_nothing() -> None:
    line = spoken(morning(snapshot(estimates={}, nights=(), ebbs=()), SHIP))
    assert line == "The house bank: charge unknown; the night's use is not known; Water low."


def test_the_line_of_the_watch() -> None:
    """13 V and 10 A out: 130 W."""
    plan = ChargePlan(False, None, None, None, (), Reason("x"))
    line = spoken(handover(snapshot(mode=SAILING, power=PowerPicture(plan=plan)), SHIP))
    assert line == (
        "Sailing; the house bank at 61 to 66 %; 130 W going out; cautious low at dawn 44 %; water for 6 days;"
        " the pump rests; no need to charge today; Water low."
    )


def test_a_silent_shunt_tells_no_power() -> None:
    silent = snapshot().values | {"house current": Reading(0.0, -10.0, True)}  # type: ignore[operator]
    assert house_net_W(snapshot(values=silent), SHIP) is None


def test_it_goes_through_a_file_and_out_again() -> None:
    line = morning(snapshot(), SHIP)
    assert spoken(Reason(line.id, json.loads(json.dumps(line.facts)))) == spoken(line)


def test_the_guests_card() -> None:
    """12 L a head from the settings. At 16 A and 230 V with 6 A taken 2300 W are to spare; without shore the
    inverter of 2000 W with 150 W. Two minutes of 10 L: 20 L, 167 % of a day."""
    shore = Supply(name="shore", limit_A=16.0)
    inverter = Inverter(name="inverter", bank="house", rated_W=2000.0)
    ship = SHIP.model_copy(update={"supplies": [shore], "inverters": [inverter]})
    live = {
        "shore ac voltage": Reading(0.0, 230.0, False),
        "shore ac current": Reading(0.0, 6.0, False),
        "inverter ac power": Reading(0.0, 150.0, False),
    }
    card = {r.id: r.facts for r in guests(snapshot(values=live), ship, 4)}
    assert card["line: guests water"] == {"litres": 12.0, "heads": 4}
    assert card["line: guests supply"]["spare_W"] == pytest.approx(2300)
    assert "line: guests inverter" not in card
    assert card["line: guests shower"]["shower_L"] == 20.0
    alone = {
        r.id: r.facts
        for r in guests(snapshot(values={"inverter ac power": live["inverter ac power"]}), ship, 4)
    }
    assert alone["line: guests inverter"]["spare_W"] == 1850.0
