"""What is heard when: clauses of MSC.302(87) 7.3 as stories; the five minutes of a warning from memory."""

from dataclasses import replace

from monitor.alerts.sounding import Sounding
from monitor.records import Mode, OpenAlert, Reason, Severity

AWAKE, ASLEEP = Mode("at anchor", "awake"), Mode("at anchor", "asleep")
SAILING = Mode("sailing", "asleep")
ALARM = OpenAlert("1", "low voltage", "house", Severity.ALARM, "active", 0.0, Reason("test"))
WARNING = OpenAlert("2", "low charge", "house", Severity.WARNING, "active", 0.0, Reason("test"))
CAUTION = OpenAlert("3", "water old", "aft", Severity.CAUTION, "active", 0.0, Reason("test"))


def tones(alerts: tuple[OpenAlert, ...], mode: Mode, minutes: int) -> list[int]:
    """The minutes in which a tone begins, looked at four times a minute."""
    sounding, heard, serial = Sounding(), [], 0
    for quarter in range(4 * minutes):
        sounding.take(15.0 * quarter, alerts, set(), mode)
        now = sounding.now(15.0 * quarter)
        if now.serial != serial and now.pattern:
            heard.append(quarter // 4)
        serial = now.serial
    return heard


def test_an_alarm_sounds_until_it_is_acknowledged() -> None:
    sounding = Sounding()
    sounding.take(0.0, (ALARM,), {"1"}, ASLEEP)
    assert {sounding.now(float(s)).pattern for s in range(1000)} == {"alarm"}

    sounding.take(1000.0, (replace(ALARM, state="acknowledged"),), set(), ASLEEP)
    assert sounding.now(1000.0).pattern == ""


def test_a_silenced_alarm_sounds_again_after_half_a_minute() -> None:
    """7.3.5."""
    sounding = Sounding()
    sounding.take(0.0, (ALARM,), {"1"}, AWAKE)
    sounding.hush(10.0)

    assert sounding.now(39.9).pattern == ""
    assert sounding.now(40.0).pattern == "alarm"


def test_a_further_alarm_ends_the_silence() -> None:
    sounding = Sounding()
    sounding.take(0.0, (ALARM,), {"1"}, AWAKE)
    before = sounding.now(5.0).serial
    sounding.hush(10.0)

    sounding.take(15.0, (replace(ALARM, alert="9"), ALARM), {"9"}, AWAKE)

    assert sounding.now(15.0).pattern == "alarm"
    assert sounding.now(15.0).serial == before + 1


def test_a_warning_is_a_tone_every_five_minutes_while_somebody_is_awake() -> None:
    assert tones((WARNING,), AWAKE, 12) == [0, 5, 10]


def test_a_warning_lets_sleepers_sleep_and_is_told_when_they_wake() -> None:
    assert tones((WARNING,), ASLEEP, 12) == []
    sounding = Sounding()
    sounding.take(0.0, (WARNING,), {"2"}, ASLEEP)
    sounding.take(15.0, (WARNING,), set(), AWAKE)

    assert sounding.now(15.0).pattern == "warning"


def test_under_way_somebody_is_on_watch() -> None:
    assert tones((WARNING,), SAILING, 6) == [0, 5]


def test_a_caution_makes_no_sound() -> None:
    assert tones((CAUTION,), AWAKE, 30) == []


def test_what_is_out_of_hearing_makes_none() -> None:
    aside = (replace(ALARM, state="shelved"), replace(WARNING, state="suppressed"))

    assert tones(aside, AWAKE, 30) == []


def test_an_acknowledged_warning_is_silent() -> None:
    sounding = Sounding()
    sounding.take(0.0, (WARNING,), {"2"}, AWAKE)
    sounding.take(15.0, (replace(WARNING, state="acknowledged"),), set(), AWAKE)

    assert sounding.now(15.0).pattern == ""


def test_while_an_alarm_sounds_a_warning_adds_no_tone() -> None:
    """The gravest is heard; the warning's own tone follows when the alarm has been seen."""
    sounding = Sounding()
    sounding.take(0.0, (ALARM, WARNING), {"1", "2"}, AWAKE)
    assert sounding.now(0.0).alert == "1"

    sounding.take(15.0, (replace(ALARM, state="acknowledged"), WARNING), set(), AWAKE)
    assert sounding.now(15.0).pattern == "warning"
