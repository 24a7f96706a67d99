"""The log tells boots whose time is uncertain in their order, and between which times they lie.

Ship's time is Europe/Madrid in winter, an hour ahead of UTC.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest

from monitor.clock import DAY_S, HOUR_S, Interval
from monitor.records import AlertChange, Event, EventKind, Reason, Severity
from monitor.storage.brackets import Bracket
from monitor.storage.history import History
from tests.web.canned import NOW_S, CannedRecord, CannedWatch, canned
from tests.web.conftest import ClientOf
from tests.web.test_pages import text_of
from web.presentation.log_lines import Bracketed

MIDNIGHT_S = 1_795_561_200.0
"""Wed 25 Nov 2026 00:00 by the ship's clock, 23:00 UTC the day before."""


@dataclass
class Uncertain(CannedRecord):
    """Boot n began `began_s[n]` in UTC where that is known; a note in each, and what a test adds."""

    began_s: dict[int, float | None]
    known: Sequence[Bracket]
    more: list[Event] = field(default_factory=list)
    asked: list[Interval] = field(default_factory=list)

    def brackets(self) -> Sequence[Bracket]:
        return self.known

    def events(self, kind: Any, during: Interval) -> Sequence[tuple[Event, float | None, float | None]]:
        self.asked.append(during)
        notes = [Event(EventKind.NOTE, "crew", n, 60.0, None, {"text": f"boot {n}"}) for n in self.began_s]
        rows = [e for e in (*notes, *self.more) if kind is None or e.kind == kind]
        return [(e, self._utc_s(e.boot, e.start_s), self._utc_s(e.boot, e.end_s)) for e in rows]

    def alert_changes(self, during: Interval | None = None) -> Sequence[tuple[AlertChange, float | None]]:
        told = Reason("alert: pump running on", {"pump": "p", "running_s": 490, "limit_s": 480})
        found = [
            AlertChange("a", "pump running on", f"boot {n}", Severity.ALARM, n, 90.0, "active", told)
            for n in self.began_s
        ]
        return [(change, self._utc_s(change.boot, change.at_s)) for change in found]

    def _utc_s(self, boot: int, at_s: float | None) -> float | None:
        began_s = self.began_s[boot]
        return None if began_s is None or at_s is None else began_s + at_s


def log_of(client_of: ClientOf, record: CannedRecord, path: str = "/log", **changes: Any) -> str:
    watch = canned()
    return text_of(client_of(CannedWatch(replace(watch.snapshot, **changes), watch.settings, record)), path)


def in_order(text: str, *words: str) -> bool:
    places = [text.find(word) for word in words]
    return -1 not in places and places == sorted(places)


BETWEEN = Uncertain(
    {1: MIDNIGHT_S - 6 * HOUR_S, 2: None, 3: None, 4: MIDNIGHT_S + 6 * HOUR_S},
    [
        Bracket(2, MIDNIGHT_S - 5 * HOUR_S, MIDNIGHT_S + 4 * HOUR_S - 20, 3600.0),
        Bracket(3, MIDNIGHT_S - 4 * HOUR_S, MIDNIGHT_S + 6 * HOUR_S, 7200.0),
    ],
)


def test_boots_of_uncertain_time_stand_in_their_order_between_their_bounds(client_of: ClientOf) -> None:
    text = log_of(client_of, BETWEEN)

    # Bounds are rounded outwards to the minute: 20 s before 04:00 is "04:00".
    assert in_order(
        text,
        "Wed 25 Nov",
        "06:01 Alarm: Pump running on (boot 4)",
        "Time uncertain, between Tue 24 Nov 20:00 and Wed 25 Nov 06:00",
        "uncertain Alarm: Pump running on (boot 3)",
        "boot 3",
        "Time uncertain, between Tue 24 Nov 19:00 and Wed 25 Nov 04:00",
        "uncertain Alarm: Pump running on (boot 2)",
        "boot 2",
        "18:01 Alarm: Pump running on (boot 1)",
        "boot 1",
    )
    assert text.count("Time uncertain") == 2


@pytest.mark.parametrize("kind", ["alert", "note"])
def test_one_kind_is_told_with_its_uncertain_times(client_of: ClientOf, kind: str) -> None:
    text = log_of(client_of, BETWEEN, f"/log?kind={kind}")

    assert in_order(text, "boot 4", "Time uncertain, between", "boot 3", "boot 2", "boot 1")


@pytest.mark.parametrize(
    ("bracket", "said"),
    [
        (Bracket(1, MIDNIGHT_S, None, 9.0), "Time uncertain, after Wed 25 Nov 00:00 "),
        (Bracket(1, None, MIDNIGHT_S, 9.0), "Time uncertain, before Wed 25 Nov 00:00 "),
        (Bracket(1, None, None, 9.0), "Time uncertain uncertain"),
    ],
)
def test_a_missing_bound_is_not_invented(client_of: ClientOf, bracket: Bracket, said: str) -> None:
    assert said in log_of(client_of, Uncertain({1: None}, [bracket]))


def test_what_surely_lies_before_the_seven_days_is_left_out(client_of: ClientOf) -> None:
    old = NOW_S - 7 * DAY_S
    record = Uncertain(
        {1: None, 2: None}, [Bracket(1, None, old - 60, 9.0), Bracket(2, old - 60, old + 60, 9.0)]
    )

    text = log_of(client_of, record)

    assert "boot 2" in text
    assert "boot 1" not in text


def test_pump_runs_of_an_uncertain_boot_are_told_by_the_hour_with_their_true_length(
    client_of: ClientOf,
) -> None:
    runs = [Event(EventKind.PUMP_RUN, "pressure pump", 1, s, s + 30.0) for s in (100.0, 900.0, 5000.0)]
    record = Uncertain({1: None}, [], runs)

    assert log_of(client_of, record).count("uncertain Pump run, pressure pump") == 2
    assert in_order(log_of(client_of, record), "30 s", "1 min", "2 runs")


def test_while_the_time_is_not_known_the_log_tells_the_last_that_happened(client_of: ClientOf) -> None:
    record = Uncertain({1: MIDNIGHT_S, 2: None}, [Bracket(2, MIDNIGHT_S + HOUR_S, None, 9.0)])

    text = log_of(client_of, record, utc_s=None, clock_trusted=False)

    assert in_order(
        text,
        "What happened last",
        "Time uncertain, after Wed 25 Nov 01:00",
        "boot 2",
        "00:01 Alarm",
        "boot 1",
    )
    assert {during.start_s for during in record.asked} == {MIDNIGHT_S + HOUR_S - 7 * DAY_S}


def test_the_store_is_such_a_record(tmp_path: Path) -> None:
    assert isinstance(History(tmp_path / "boat.db"), Bracketed)
    assert not isinstance(CannedRecord(), Bracketed)


def test_what_the_crew_said_of_an_alert_and_a_rule_is_told_by_its_name(client_of: ClientOf) -> None:
    said = [
        Event(EventKind.SCORE, "low charge/house/1/20.000", 1, 60.0, None, {"true": False}),
        Event(EventKind.RULE, "low charge", 1, 70.0, None, {"rule": "low charge", "limit": 40}),
    ]
    text = log_of(client_of, Uncertain({1: NOW_S - HOUR_S}, [], said))

    assert "Charge low (house): the crew says it was a false alarm" in text
    assert "Rule changed, Charge low" in text
    assert "low charge/house" not in text
