"""The loudspeaker with a program of the test's own in place of aplay: it writes down what it is to play."""

import math
import wave
from array import array
from dataclasses import replace
from itertools import groupby
from pathlib import Path

import pytest

from monitor.delivery import loudspeaker
from monitor.delivery.tones import RATE_HZ, TONES, write_tone
from monitor.records import Notice, Reason, Severity, Sound
from tests.delivery.crew import NOON_S, alert, dispatching, snapshot, still_open
from tests.sources.listening import eventually

ALARM, WARNING, CAUTION = Severity
BURST = alert(1, ALARM, rule="burst", subject="pump")
LOW = alert(2, WARNING)
SOUNDING = Sound("alarm", BURST.alert, 1)


@pytest.fixture(autouse=True)
def _brisk(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(loudspeaker, "EVERY_S", 0.02)


class Player:
    """A program that notes the file's name, and then ends, fails or goes on for ever."""

    def __init__(self, folder: Path, then: str = "exit 0") -> None:
        self.notes, self._program = folder / "played", folder / "player"
        self._program.write_text(f'#!/bin/sh\nbasename "$2" >> "{self.notes}"\n{then}\n')
        self._program.chmod(0o755)

    def way(self, more: str = "") -> str:
        program = f'program = ["{self._program}", "-q", "{{file}}"]'
        return f'[[ways]]\nkind = "loudspeaker"\nname = "cabin"\n{program}\n{more}\n'

    def played(self) -> list[str]:
        return self.notes.read_text().split() if self.notes.exists() else []


def test_an_alarm_goes_on_until_it_is_seen(tmp_path: Path) -> None:
    player = Player(tmp_path)
    with dispatching(player.way()) as (dispatcher, _, clock):
        dispatcher.look(snapshot(clock.at_s, sound=SOUNDING, alerts=(still_open(BURST),)))
        assert eventually(lambda: len(player.played()) >= 4)
        assert set(player.played()) == {"alarm.wav"}
        assert dispatcher.ways()[0].confirmed_utc_s == NOON_S
        dispatcher.look(snapshot(clock.at_s))
        dispatcher.look(snapshot(clock.at_s, sound=Sound("warning", LOW.alert, 2)))
        assert eventually(lambda: player.played()[-1] == "warning.wav")


def test_a_hushed_alarm_is_cut_off_at_once(tmp_path: Path) -> None:
    """The program would play for ever."""
    player = Player(tmp_path, 'case "$2" in *alarm*) exec sleep 600;; esac')
    with dispatching(player.way()) as (dispatcher, _, clock):
        dispatcher.look(snapshot(clock.at_s, sound=SOUNDING))
        assert eventually(lambda: player.played() == ["alarm.wav"])
        dispatcher.look(snapshot(clock.at_s, sound=Sound("", BURST.alert, 1)))
        dispatcher.hand([Notice("t", "test", 0.0, None, Reason("way tried"))])
        assert eventually(lambda: player.played() == ["alarm.wav", "test.wav"])


def test_a_warning_is_one_tone_for_each_serial(tmp_path: Path) -> None:
    player = Player(tmp_path)
    with dispatching(player.way()) as (dispatcher, _, clock):
        for serial in (1, 1, 1, 2, 2):
            count = serial
            dispatcher.look(snapshot(clock.at_s, sound=Sound("warning", LOW.alert, serial)))
            assert eventually(lambda n=count: len(player.played()) == n)  # type: ignore[misc]
        dispatcher.hand([Notice("t", "test", 0.0, None, Reason("way tried"))])
        assert eventually(lambda: player.played() == ["warning.wav", "warning.wav", "test.wav"])


def test_of_the_notices_only_trials_are_heard(tmp_path: Path) -> None:
    with dispatching(Player(tmp_path).way()) as (dispatcher, card, _):
        dispatcher.hand([BURST, LOW, Notice("m", "morning", 0.0, None, Reason("way tried"))])
        assert card.rows() == []


def test_a_second_one_sounds_when_nobody_has_answered(tmp_path: Path) -> None:
    player = Player(tmp_path)
    with dispatching(player.way("second = true")) as (dispatcher, _, clock):
        dispatcher.look(snapshot(clock.at_s, sound=SOUNDING, alerts=(still_open(BURST),)))
        dispatcher.hand([Notice("t", "test", 0.0, None, Reason("way tried"))])
        assert eventually(lambda: player.played() == ["test.wav"])
        escalated = (still_open(BURST, escalated=True),)
        dispatcher.look(snapshot(clock.at_s, sound=SOUNDING, alerts=escalated))
        assert eventually(lambda: "alarm.wav" in player.played())


def test_quiet_hours_hold_a_warning_and_no_alarm(tmp_path: Path) -> None:
    """At 23:00 of Marram's clock."""
    player, night_s = Player(tmp_path), NOON_S + 9 * 3600
    with dispatching(player.way("quiet = true")) as (dispatcher, _, clock):
        dispatcher.look(snapshot(clock.at_s, night_s, sound=Sound("warning", LOW.alert, 1)))
        dispatcher.hand([Notice("t", "test", 0.0, None, Reason("way tried"))])
        assert eventually(lambda: player.played() == ["test.wav"])
        dispatcher.look(snapshot(clock.at_s, night_s, sound=replace(SOUNDING, serial=2)))
        assert eventually(lambda: "alarm.wav" in player.played())


def test_a_missing_program_is_told_before_it_is_needed() -> None:
    way = '[[ways]]\nkind = "loudspeaker"\nname = "cabin"\nprogram = ["no-such-player", "{file}"]\n'
    with dispatching(way) as (dispatcher, _, clock):
        (told,) = dispatcher.ways()
        assert told.trouble == "no-such-player: no such program"
        assert told.failing_s == 0.0
        dispatcher.look(snapshot(clock.at_s, sound=SOUNDING))
        assert eventually(lambda: "cannot be started" in dispatcher.ways()[0].trouble)
        clock.at_s += 100
        assert eventually(lambda: dispatcher.ways()[0].failing_s == 100.0)


@pytest.mark.parametrize(
    ("then", "told"),
    [("exit 3", "ended with 3"), ("sleep 600", "does not end"), ("trap '' TERM; sleep 600", "does not end")],
)
def test_a_program_that_fails_or_never_ends(
    tmp_path: Path, then: str, told: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(loudspeaker, "PATIENCE_S", 0.3)
    with dispatching(Player(tmp_path, then).way()) as (dispatcher, _, clock):
        dispatcher.look(snapshot(clock.at_s, sound=SOUNDING))
        assert eventually(lambda: told in dispatcher.ways()[0].trouble)


def test_the_tones_are_what_they_say(tmp_path: Path) -> None:
    """Read back by the standard library: each tone's pitch by the count of its zero crossings (two a period,
    so within one period over its length), its loudness under full scale, and silence between."""
    for pattern, (tones, loudness) in TONES.items():
        with wave.open(str(write_tone(pattern, tmp_path))) as file:
            assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, RATE_HZ)
            samples = array("h", file.readframes(file.getnframes()))
        at = 0
        for tone in tones:
            part = samples[at : at + round(tone.seconds * RATE_HZ)]
            at += len(part)
            signs = [sign for sign, _ in groupby(v > 0 for v in part if v)]
            hz = len(signs) / 2 / tone.seconds
            assert hz == pytest.approx(tone.hz, abs=1 / tone.seconds)
            assert max(map(abs, part)) <= math.ceil(32767 * loudness)
        assert at == len(samples)
