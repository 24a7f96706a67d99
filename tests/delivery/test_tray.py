"""What goes next: in order, alarms first, nothing of an alert before what came before it."""

import random
from dataclasses import replace

from monitor.delivery.tray import BURST, MOST_IN_ONE, Tray, gravest_first
from monitor.records import Notice, Reason, Severity
from tests.delivery.crew import NOON_S, alert, ended

ALARM, WARNING, CAUTION = Severity


def drained(tray: Tray, utc_s: float | None = NOON_S) -> list[list[Notice]]:
    sent = []
    while parcel := tray.next(utc_s)[0]:
        tray.done(parcel)
        sent.append(list(parcel))
    return sent


def test_in_order() -> None:
    tray, given = Tray(), [alert(n, CAUTION if n % 2 else WARNING) for n in range(20)]
    tray.put(given)

    assert drained(tray) == [[n] for n in given]


def test_an_alarm_overtakes_a_flood() -> None:
    """A thousand in order, ten alarms at its end: they go first, then the rest as it came."""
    flood = [alert(n, WARNING if n % 3 else CAUTION) for n in range(990)]
    alarms = [alert(n, ALARM) for n in range(990, 1000)]
    tray = Tray()
    tray.put([*flood, *alarms])

    assert drained(tray) == [[n] for n in [*alarms, *flood]]


def test_an_alarm_does_not_overtake_its_own_alert() -> None:
    first, other = alert(1, CAUTION), alert(2, WARNING)
    raised = replace(first, id=first.id.replace("began", "raised"), what="raised", severity=ALARM)
    later = ended(first)
    tray = Tray()
    tray.put([other, first, later, raised])

    assert drained(tray) == [[first], [later], [raised], [other]]


def test_order_within_an_alert_is_kept_in_any_mixture() -> None:
    """Forty random mixtures: nothing is lost or doubled, each alert's own keep their order, and no alarm
    waits behind what does not belong to an alarm's alert."""
    rng = random.Random(20261201)
    for _ in range(40):
        given = [replace(alert(rng.randrange(8), rng.choice(list(Severity))), id=f"{n}") for n in range(60)]
        tray = Tray()
        tray.put(given)
        sent = [n for parcel in drained(tray) for n in parcel]

        assert sorted(n.id for n in sent) == sorted(n.id for n in given)
        for name in {n.alert for n in given}:
            assert [n for n in sent if n.alert == name] == [n for n in given if n.alert == name]
        last_alarm = max(at for at, n in enumerate(sent) if n.severity is ALARM)
        with_alarm = {n.alert for n in given if n.severity is ALARM}
        assert all(n.alert in with_alarm for n in sent[: last_alarm + 1])


def test_what_is_handed_over_twice_goes_once() -> None:
    tray = Tray()
    tray.put([alert(1), alert(1)])

    assert len(tray) == 1


def test_a_way_that_is_dead_for_weeks_keeps_the_gravest_and_newest() -> None:
    alarms = [alert(n, ALARM) for n in range(30)]
    warnings = [alert(n, WARNING) for n in range(100, 130)]
    cautions = [alert(n, CAUTION) for n in range(200, 230)]
    tray = Tray(most=50)
    dropped = [n for given in (alarms, warnings, cautions) for n in tray.put(given)]

    assert dropped == [*warnings[:10], *cautions]
    assert tray.dropped == 40
    assert [n for [n] in drained(tray)] == [*alarms, *warnings[10:]]


def test_no_alarm_is_dropped() -> None:
    tray = Tray(most=5)
    assert tray.put([alert(n, ALARM) for n in range(9)]) == []
    assert len(tray) == 9


def test_a_burst_becomes_one_message_and_alarms_one_each() -> None:
    tray = Tray(several=True)
    few = [alert(n) for n in range(BURST)]
    tray.put(few)
    assert drained(tray) == [[n] for n in few]

    many = [alert(n) for n in range(BURST + 1)]
    alarms = [alert(50, ALARM), alert(51, ALARM)]
    tray.put([*many, *alarms])
    assert drained(tray) == [[alarms[0]], [alarms[1]], many]

    more = [alert(n) for n in range(2 * MOST_IN_ONE)]
    tray.put(more)
    assert drained(tray) == [more[:MOST_IN_ONE], more[MOST_IN_ONE:]]


def test_the_gravest_first_and_an_alert_in_one_piece() -> None:
    caution, warning, other = alert(1, CAUTION), alert(2, WARNING), alert(3, CAUTION)
    graver = replace(other, id="graver", severity=WARNING)

    assert gravest_first([caution, warning, other, graver]) == [warning, other, graver, caution]


# ---- quiet hours: here from NOON_S on for an hour

QUIET_S = NOON_S + 3600


def quiet(utc_s: float | None) -> bool:
    return utc_s is not None and NOON_S <= utc_s < QUIET_S


def test_quiet_hours_hold_warnings_and_cautions_and_never_an_alarm() -> None:
    tray = Tray(quiet)
    warning, alarm = alert(1, WARNING), alert(2, ALARM)
    trial = Notice("t", "test", 0.0, NOON_S, Reason("way tried"))
    tray.put([warning, alarm, trial])

    assert drained(tray, NOON_S) == [[alarm], [trial]]
    assert not tray.due(NOON_S)
    assert tray.due(QUIET_S)
    assert drained(tray, QUIET_S) == [[warning]]


def test_nothing_is_held_while_the_time_is_not_known() -> None:
    tray = Tray(quiet)
    tray.put([alert(1, CAUTION, utc_s=None)])

    assert len(drained(tray, None)) == 1


def test_what_was_over_before_the_quiet_hours_ended_is_dropped() -> None:
    tray = Tray(quiet)
    over, stands = alert(1, utc_s=NOON_S + 10), alert(2, utc_s=NOON_S + 20)
    tray.put([over, stands, ended(over, utc_s=NOON_S + 30)])
    assert drained(tray, NOON_S + 40) == []

    parcel, dropped = tray.next(QUIET_S)

    assert parcel == (stands,)
    assert dropped == [over, ended(over, utc_s=NOON_S + 30)]
    assert len(tray) == 1


def test_an_end_that_this_way_was_not_told_of_counts_too() -> None:
    """And nothing is dropped before the time is known."""
    over, stands = alert(1, utc_s=NOON_S + 10), alert(2, utc_s=NOON_S + 20)
    tray = Tray(quiet, over=lambda name: name == over.alert)
    tray.put([over, stands])

    assert tray.next(None) == ((over,), [])
    assert tray.next(NOON_S + 40) == ((), [])
    assert tray.next(QUIET_S) == ((stands,), [over])


def test_what_was_told_before_the_quiet_hours_has_its_end_told_after_them() -> None:
    tray = Tray(quiet)
    began = alert(1, utc_s=NOON_S - 10)
    tray.put([began])
    drained(tray, NOON_S - 5)
    tray.put([ended(began, utc_s=NOON_S + 10)])
    assert drained(tray, NOON_S + 20) == []

    assert drained(tray, QUIET_S) == [[ended(began, utc_s=NOON_S + 10)]]


def test_what_waited_for_the_network_by_day_is_not_dropped_by_quiet_hours() -> None:
    tray = Tray(quiet)
    began = alert(1, utc_s=NOON_S - 10)
    over = ended(began, utc_s=NOON_S - 5)
    tray.put([began, over])
    tray.next(NOON_S + 5)

    assert drained(tray, QUIET_S) == [[began], [over]]


def test_what_becomes_an_alarm_takes_its_past_with_it() -> None:
    tray = Tray(quiet)
    began = alert(1, WARNING)
    raised = replace(began, id="raised", what="raised", severity=ALARM)
    tray.put([began])
    assert drained(tray, NOON_S) == []
    tray.put([raised])

    assert drained(tray, NOON_S) == [[began], [raised]]
