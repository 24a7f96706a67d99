"""Who gets what and when: the daily trial, the settings, a restart, and the end in time."""

import threading
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from monitor.delivery.desk import Desk
from monitor.delivery.dispatcher import Dispatcher
from monitor.delivery.tray import MOST
from monitor.errors import SettingsError
from monitor.records import CHANGES, Notice, Reason, Severity
from monitor.words.say import SENTENCES
from tests.delivery.crew import NOON_S, Card, HandClock, alert, dispatching, settings, snapshot

ALARM, WARNING, CAUTION = Severity
DEAD = '[[ways]]\nkind = "mqtt"\nname = "{}"\nport = 1\n'
"""Nobody listens on port 1."""


def at(text: str) -> float:
    """Marram's own clock, in UTC seconds."""
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo("Europe/Madrid")).timestamp()


def test_each_way_is_tried_once_a_day_at_its_hour(tmp_path: Path) -> None:
    """The hour is the ship's: nine o'clock in Madrid is seven UTC in summer."""
    card = Card()
    ways = DEAD.format("one") + "test_at = 9\n" + DEAD.format("two")
    with dispatching(ways, card) as (dispatcher, _, clock):
        for moment in ("08:59", "09:00", "09:01", "09:59", "10:00", "15:00"):
            dispatcher.look(snapshot(clock.at_s, at(f"2026-10-01T{moment}")))
        assert [(way, n.id) for way, n in card.rows()] == [("one", "test/one/2026-10-01")]
    with dispatching(ways, card) as (dispatcher, _, clock):
        dispatcher.look(snapshot(clock.at_s, at("2026-10-01T09:30")))
        assert len(card.rows()) == 1, "remembered through a restart"
        dispatcher.look(snapshot(clock.at_s, at("2026-10-02T09:30")))
        assert [n.kind for _, n in card.rows()] == ["test", "test"]


def test_no_trial_while_the_time_is_not_known() -> None:
    with dispatching(DEAD.format("one") + "test_at = 14\n") as (dispatcher, card, clock):
        before = len(card.rows())
        dispatcher.look(snapshot(clock.at_s, None))
        assert before == len(card.rows()) == 1, "the first look was at 14 o'clock of the ship's clock"


@pytest.mark.parametrize(
    ("hour", "moment", "day"),
    [
        # tz database: in Madrid 2026-03-29 02:00 becomes 03:00, and 2026-10-25 03:00 becomes 02:00.
        (2, "2026-03-29T01:10:00+00:00", "2026-03-29"),
        (2, "2026-10-25T00:10:00+00:00", "2026-10-25"),
        (2, "2026-10-25T01:10:00+00:00", ""),
        (23, "2026-10-01T21:59:00+00:00", "2026-10-01"),
        (23, "2026-10-01T22:00:00+00:00", ""),
    ],
)
def test_the_hour_of_the_trial_when_the_clock_is_changed(hour: int, moment: str, day: str) -> None:
    desk = Desk(settings(""), HandClock())
    desk.look(snapshot(1000.0, datetime.fromisoformat(moment).timestamp()))

    assert desk.day_of_test(hour) == day


@pytest.mark.parametrize(
    ("span", "quiet", "loud"),
    [
        ("quiet_from = 20\nquiet_until = 9", [20, 23, 0, 8], [9, 12, 19]),
        ("quiet_from = 13\nquiet_until = 15", [13, 14], [12, 15]),
        ("quiet_from = 8\nquiet_until = 8", [], [7, 8, 9]),
    ],
)
def test_quiet_hours_by_the_ships_clock(span: str, quiet: list[int], loud: list[int]) -> None:
    desk = Desk(settings(f"[night]\n{span}\n"), HandClock())

    assert [h for h in quiet + loud if desk.quiet(at(f"2026-10-01T{h:02}:30"))] == quiet
    assert not desk.quiet(None)


def test_a_way_takes_its_grade_and_graver_ones() -> None:
    ways = "".join(
        DEAD.format(f"from {g}") + f'from_grade = "{g}"\n' for g in ("alarm", "warning", "caution")
    )
    flood = Notice("flood/1/2.000", "flood", 2.0, NOON_S, Reason("flood", {"count": 20}), WARNING)
    morning = Notice("morning/1/2.000", "morning", 2.0, NOON_S, Reason("way tried"))
    with dispatching(ways) as (dispatcher, card, _):
        dispatcher.hand([alert(1, CAUTION), alert(2, WARNING), alert(3, ALARM), flood, morning])
        got = {way: [n.id for w, n in card.rows() if w == way] for way, _ in card.rows()}

    assert [len(ids) for ids in got.values()] == [2, 4, 5]
    assert all(morning.id in ids for ids in got.values())


def test_what_a_way_held_that_is_no_longer_set_is_forgotten() -> None:
    card = Card()
    card.post("sold", [alert(1)])
    with dispatching(DEAD.format("one"), card):
        assert card.rows() == []


def test_a_simulated_past_is_told_to_nobody() -> None:
    card = Card()
    dispatcher = Dispatcher(settings(DEAD.format("one")), HandClock(), card, listening=False)
    dispatcher.hand([alert(1)])
    assert card.rows() == []
    dispatcher.listen()
    dispatcher.hand([alert(2)])
    assert [n.id for _, n in card.rows()] == [alert(2).id]


def test_a_dead_way_is_bounded_and_says_what_it_dropped() -> None:
    with dispatching(DEAD.format("one")) as (dispatcher, card, _):
        dispatcher.hand([alert(n) for n in range(MOST)])
        dispatcher.hand([alert(n) for n in range(MOST, MOST + 30)])
        assert len(card.rows()) == MOST
        assert dispatcher.ways()[0].waiting == MOST
        assert "30 of the lesser notices were dropped" in dispatcher.ways()[0].trouble


def test_nothing_is_left_running_at_the_end() -> None:
    with dispatching(DEAD.format("one") + DEAD.format("two")):
        assert sum(t.name.startswith("way ") for t in threading.enumerate()) == 2
    assert not any(t.name.startswith("way ") for t in threading.enumerate())


def test_whatever_happens_to_an_alert_has_its_words() -> None:
    assert [what for what in CHANGES if f"ways: what {what}" not in SENTENCES] == []


WRONG = {
    "ways[0].name": DEAD.format("a/b"),
    "ways[1].name: 'x' is the name of another way": DEAD.format("x") * 2,
    "ways[0].from_grade": DEAD.format("x") + 'from_grade = "loud"\n',
    "ways[0].test_at": DEAD.format("x") + "test_at = 24\n",
    "ways[0].urls_file: missing": '[[ways]]\nkind = "message"\nname = "x"\n',
    "ways[0]: program: expected a word with {file}": (
        '[[ways]]\nkind = "loudspeaker"\nname = "x"\nprogram = ["beep"]\n'
    ),
    "ways[0].topic: not a setting": DEAD.format("x") + 'topic = "mine"\n',
}


@pytest.mark.parametrize("key", WRONG)
def test_a_mistake_in_the_settings_is_named(key: str) -> None:
    with pytest.raises(SettingsError) as told:
        settings(WRONG[key])

    assert any(line.startswith(key) for line in told.value.mistakes), told.value.mistakes
