"""The life of an alert as stories: when the situation is what, and what is written down.

The delays are those of the rules' table (the project's starting values). The states are those of
IMO A.1021(26) and MSC.302(87): unacknowledged, acknowledged, rectified but not yet seen.
"""

import json

import pytest

from monitor.alerts.book import AlertBook
from monitor.errors import CommandError
from monitor.records import Reason, Severity
from tests.alerts.logbook import finding, one, tell

STORIES = {
    # Low charge is a warning: on after 300 s, off after 1800 s.
    "a dip shorter than the on delay is nothing": (
        "low charge",
        [(0, "holds"), (300, "clear"), (3000, "end")],
        [],
    ),
    "it begins when the on delay is over": (
        "low charge",
        [(0, "holds"), (310, "end")],
        [(300, "active")],
    ),
    "one good moment starts the delay anew": (
        "low charge",
        [(0, "holds"), (290, "between"), (300, "holds"), (610, "end")],
        [(600, "active")],
    ),
    "a silent instrument while pending resets the hold": (
        "low charge",
        [(0, "holds"), (290, "silent"), (300, "holds"), (610, "end")],
        [(600, "active")],
    ),
    "a warning that is over waits to be seen": (
        "low charge",
        [(0, "holds"), (310, "clear"), (9000, "end")],
        [(300, "active"), (2110, "returned")],
    ),
    "seen when it is over, it ends": (
        "low charge",
        [(0, "holds"), (310, "clear"), (3000, "seen"), (9000, "end")],
        [(300, "active"), (2110, "returned"), (3000, "ended")],
    ),
    "seen while it lasts, it stays until it is over": (
        "low charge",
        [(0, "holds"), (310, "seen"), (20_000, "clear"), (30_000, "end")],
        [(300, "active"), (310, "acknowledged"), (21_800, "ended")],
    ),
    "inside the deadband it goes on": (
        "low charge",
        [(0, "holds"), (310, "between"), (7000, "end")],
        [(300, "active")],
    ),
    "silence ends nothing": (
        "low charge",
        [(0, "holds"), (310, "silent"), (7000, "end")],
        [(300, "active"), (370, "active: fell silent")],
    ),
    "what has been silent is heard again": (
        "low charge",
        [(0, "holds"), (310, "seen"), (400, "silent"), (1000, "between"), (2000, "end")],
        [
            (300, "active"),
            (310, "acknowledged"),
            (460, "acknowledged: fell silent"),
            (1000, "acknowledged: heard again"),
        ],
    ),
    "unseen for half the time to respond it takes the second way out, once": (
        "low charge",
        [(0, "holds"), (20_000, "end")],
        [(300, "active"), (300 + 4 * 3600 // 2, "active: escalated")],
    ),
    "an alarm takes it after two minutes": (
        "low voltage",
        [(0, "holds"), (400, "seen"), (1000, "end")],
        [(60, "active"), (180, "active: escalated"), (400, "acknowledged")],
    ),
    "a caution never does": (
        "clock not confirmed",
        [(0, "holds"), (40_000, "end")],
        [(120, "active")],
    ),
    "silence starts the off delay anew": (
        "low charge",
        [(0, "holds"), (310, "clear"), (2100, "silent"), (2110, "clear"), (3920, "end")],
        [(300, "active"), (3910, "returned")],
    ),
    "back again before it was seen, it is the same alert": (
        "low charge",
        [(0, "holds"), (310, "clear"), (3000, "holds"), (4000, "end")],
        [(300, "active"), (2110, "returned"), (3300, "active")],
    ),
    # Low voltage is an alarm: on after 60 s, in the severe zone after 10 s, off after 300 s.
    "an engine start is no low voltage": (
        "low voltage",
        [(0, "severe"), (8, "clear"), (1000, "end")],
        [],
    ),
    "severely low for ten seconds is an alarm": (
        "low voltage",
        [(0, "severe"), (14, "end")],
        [(10, "active")],
    ),
    "low for a minute is an alarm": (
        "low voltage",
        [(0, "holds"), (64, "end")],
        [(60, "active")],
    ),
    "the severe zone counts from when it was entered": (
        "low voltage",
        [(0, "holds"), (40, "severe"), (54, "end")],
        [(50, "active")],
    ),
    # Clock not confirmed is a caution: on after 120 s, off at once.
    "a caution clears itself": (
        "clock not confirmed",
        [(0, "holds"), (300, "clear"), (400, "end")],
        [(120, "active"), (300, "ended")],
    ),
    "a caution can be seen too": (
        "clock not confirmed",
        [(0, "holds"), (200, "seen"), (300, "clear"), (400, "end")],
        [(120, "active"), (200, "acknowledged"), (300, "ended")],
    ),
    # Pump running on: the limit is a delay of its own.
    "a pump over its limit is told at once": (
        "pump running on",
        [(0, "clear"), (500, "holds"), (510, "clear"), (600, "end")],
        [(500, "active"), (510, "returned")],
    ),
}


@pytest.mark.parametrize("name", STORIES)
def test_story(name: str) -> None:
    rule, story, expected = STORIES[name]

    assert tell(rule, story, every_s=2.0 if rule == "low voltage" else 10.0) == expected


def test_an_alert_keeps_its_name_for_life() -> None:
    book = AlertBook()
    first = one(book.step(1, 5.0, [finding("pump running on", "holds", "pump")]))
    returned = one(book.step(1, 65.0, [finding("pump running on", "clear", "pump")]))
    again = one(book.step(1, 70.0, [finding("pump running on", "holds", "pump")]))
    book.step(1, 75.0, [finding("pump running on", "clear", "pump")])
    ended = book.acknowledge(first.alert, 1, 80.0)
    later = one(book.step(1, 90.0, [finding("pump running on", "holds", "pump")]))

    assert first.alert == "pump running on/pump/1/5.000"
    assert {returned.alert, again.alert, ended.alert} == {first.alert}
    assert later.alert != first.alert


def test_what_is_of_no_use_once_it_is_over_need_not_have_been_seen() -> None:
    """A tank that was filled days ago is no warning any more; a pump that ran on still is one."""
    book = AlertBook()
    book.step(1, 0.0, [finding("tank nearly full", "holds", "midship"), finding("pump running on", "holds")])
    clear = [finding("tank nearly full", "clear", "midship"), finding("pump running on", "clear")]
    for n in range(30):
        book.step(1, 10.0 * (n + 1), clear)

    assert [line.rule for line in book.open()] == ["pump running on"]


def test_a_worse_situation_raises_the_same_alert_and_wants_somebody_again() -> None:
    """MSC.252(83) 19.2: a warning that gets worse becomes an alarm."""
    book = AlertBook()
    first = one(book.step(1, 0.0, [finding("pump running on", "holds")]))
    book.acknowledge(first.alert, 1, 10.0)

    raised = one(book.step(1, 60.0, [finding("pump running on", "holds", severity=Severity.ALARM)]))
    quiet = book.step(1, 70.0, [finding("pump running on", "holds")])

    assert (raised.alert, raised.state, raised.severity) == (first.alert, "active", Severity.ALARM)
    assert quiet == []
    assert book.open()[0].severity is Severity.ALARM


def test_a_root_cause_takes_its_child_over() -> None:
    """MSC.302(87) 5.2: one alert for one situation."""
    under = (("low voltage", "it"),)
    book = AlertBook()
    child = one(book.step(1, 0.0, [finding("pump running on", "holds", under=under)]))
    both = [finding("low voltage", "severe"), finding("pump running on", "holds", under=under)]
    book.step(1, 10.0, both)

    taken_over = book.step(1, 20.0, both)

    root, grouped = taken_over
    assert (root.rule, root.state) == ("low voltage", "active")
    assert (grouped.alert, grouped.what, grouped.state) == (child.alert, "suppressed", "suppressed")
    shown, kept = book.open()
    assert (shown.alert, shown.children) == (root.alert, (("pump running on", "it"),))
    assert kept.because == Reason("alert: grouped", {"rule": "low voltage", "subject": "it"})


def test_a_child_begins_when_its_root_cause_is_over_and_it_is_not() -> None:
    under = (("pump running on", "it"),)
    book = AlertBook()
    pump = finding("pump running on", "holds")
    leak = finding("leak suspected", "holds", under=under)
    began = {c.rule: c.state for c in book.step(1, 0.0, [leak, pump])}
    assert began == {"pump running on": "active", "leak suspected": "suppressed"}

    over = book.step(1, 10.0, [leak, finding("pump running on", "clear")])

    assert [(c.rule, c.state) for c in over] == [
        ("pump running on", "returned"),
        ("leak suspected", "active"),
    ]


def test_a_root_cause_that_was_acknowledged_still_explains() -> None:
    under = (("pump running on", "it"),)
    book = AlertBook()
    leak, pump = finding("leak suspected", "holds", under=under), finding("pump running on", "holds")
    root = one(book.step(1, 0.0, [pump]))
    book.acknowledge(root.alert, 1, 1.0)

    assert [c.state for c in book.step(1, 10.0, [leak, pump])] == ["suppressed"]


def test_a_root_cause_of_the_same_grade_takes_its_child_over() -> None:
    under = (("pump running on", "it"),)
    book = AlertBook()
    leak = finding("leak suspected", "holds", under=under)
    book.step(1, 0.0, [leak])

    book.step(1, 10.0, [leak, finding("pump running on", "holds")])

    assert {o.rule: o.state for o in book.open()} == {
        "pump running on": "active",
        "leak suspected": "suppressed",
    }


def test_a_lesser_root_cause_hides_nothing() -> None:
    """A caution neither keeps a warning from beginning beside it nor takes an open one away."""
    under = (("source silent", "bus"),)
    book = AlertBook()
    warning = finding("instrument silent", "holds", severity=Severity.WARNING, under=under)
    for at_s in (0.0, 60.0):
        book.step(1, at_s, [warning])

    book.step(1, 70.0, [warning, finding("source silent", "holds", "bus")])

    assert [o.rule for o in book.open()] == ["instrument silent", "source silent"]


def test_what_the_settings_no_longer_watch_does_not_stay_for_ever() -> None:
    book = AlertBook()
    warning = one(book.step(1, 0.0, [finding("pump running on", "holds")]))
    assert one(book.step(1, 10.0, [])).state == "returned"

    assert book.acknowledge(warning.alert, 1, 20.0).state == "ended"
    assert book.open() == ()


def test_nobody_looked_for_a_while_so_the_delay_starts_anew() -> None:
    """A hold across a stretch without a step was never seen: it must not count."""
    book = AlertBook()
    assert book.step(1, 0.0, [finding("low charge", "holds")]) == []
    assert book.step(1, 3600.0, [finding("low charge", "holds")]) == []
    assert book.step(1, 3780.0, [finding("low charge", "holds")]) == []
    assert one(book.step(1, 3900.0, [finding("low charge", "holds")])).state == "active"


def test_a_new_boot_starts_the_delay_anew() -> None:
    """The elapsed seconds of two boots are strangers, even where they look close."""
    book = AlertBook()
    for boot, at_s in ((1, 0.0), (1, 150.0), (2, 200.0), (2, 350.0)):
        assert book.step(boot, at_s, [finding("low charge", "holds")]) == []

    assert one(book.step(2, 500.0, [finding("low charge", "holds")])).boot == 2


@pytest.mark.parametrize("jump_s", [-1.7e9, 1.7e9])
def test_a_jump_of_decades_begins_and_ends_nothing(jump_s: float) -> None:
    """Elapsed time does not jump; should it ever, nothing pending is counted across it."""
    book = AlertBook()
    book.step(1, 1e9, [finding("low charge", "holds"), finding("pump running on", "holds")])
    (before,) = book.open()

    changes = book.step(
        1, 1e9 + jump_s, [finding("low charge", "holds"), finding("pump running on", "holds")]
    )

    assert changes == []
    assert book.open() == (before,)


def test_only_what_is_open_can_be_acknowledged_and_only_once() -> None:
    book = AlertBook()
    alert = one(book.step(1, 0.0, [finding("pump running on", "holds")])).alert
    book.acknowledge(alert, 1, 1.0)

    with pytest.raises(CommandError, match="acknowledged already"):
        book.acknowledge(alert, 1, 2.0)
    with pytest.raises(CommandError, match="no longer open"):
        book.acknowledge("something else", 1, 2.0)


def test_one_acknowledgement_is_for_one_alert() -> None:
    """MSC.302(87): alerts are acknowledged one by one."""
    book = AlertBook()
    two = [finding("pump running on", "holds", name) for name in ("bow", "stern")]
    bow, stern = book.step(1, 0.0, two)

    book.acknowledge(bow.alert, 1, 1.0)

    assert {o.alert: o.state for o in book.open()} == {bow.alert: "acknowledged", stern.alert: "active"}


def test_the_worst_stands_first_then_what_nobody_has_seen() -> None:
    book = AlertBook()
    rules = ["clock not confirmed", "pump running on", "store trouble", "low voltage"]
    for at_s in (0.0, 60.0, 120.0):
        book.step(1, at_s, [finding(rule, "holds") for rule in rules])
    seen = next(o for o in book.open() if o.rule == "store trouble")
    book.acknowledge(seen.alert, 1, 130.0)

    order = ["low voltage", "pump running on", "store trouble", "clock not confirmed"]
    assert [o.rule for o in book.open()] == order


def test_a_restart_loses_no_open_alert_and_writes_nothing_twice() -> None:
    """MSC.302(87) 13.1.2 and 13.2.2: after a loss of power the alerts stand as before."""
    book = AlertBook()
    both = [finding("pump running on", "holds"), finding("store trouble", "holds")]
    pump, _ = book.step(1, 0.0, both)
    book.acknowledge(pump.alert, 1, 5.0)
    after = AlertBook()

    after.restore(json.loads(json.dumps(book.state())))

    assert after.open() == book.open()
    assert after.step(2, 3.0, both) == []
    assert after.begins()[pump.alert] == (1, 0.0)


def test_an_alert_of_a_rule_that_is_gone_is_left_behind() -> None:
    book = AlertBook()
    book.step(1, 0.0, [finding("pump running on", "holds")])
    state = book.state()
    state["open"][0]["rule"] = "an older rule"
    after = AlertBook()

    after.restore(state)

    assert after.open() == ()


def test_an_alert_that_is_not_on_the_card_says_so() -> None:
    book = AlertBook()
    alert = one(book.step(1, 0.0, [finding("pump running on", "holds")])).alert

    book.record([alert], False)

    assert [o.recorded for o in book.open()] == [False]
