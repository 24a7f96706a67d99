"""What stands between a finding and somebody's ear: on the card first, the gravest first, and once."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

import pytest

from monitor.errors import CommandError
from monitor.pipeline.judgement import Judgement
from monitor.pipeline.memory import Memory
from monitor.records import Command, Finding, Mode, Notice, Reason, Way
from tests.alerts.boat import SETTINGS, but
from tests.alerts.logbook import finding
from tests.pipeline.boat import Shelf

NOON_S = 1_790_856_000.0
"""2026-10-01 12:00 UTC."""
ANCHORED = Mode("at anchor", "awake")


@dataclass
class Ear:
    """A way out that keeps what it is handed, and what was on the card by then."""

    shelf: Shelf
    heard: list[Notice] = field(default_factory=list)
    on_card: list[int] = field(default_factory=list)
    posted: list[tuple[str, int]] = field(default_factory=list)
    """What was given to the card, and how many changes had been waited for by then."""

    def post(self, notices: Sequence[Notice]) -> None:
        self.posted += [(n.id, len(self.shelf.changes)) for n in notices]

    def hand(self, notices: Sequence[Notice]) -> None:
        if not notices:
            return
        self.heard += notices
        self.on_card.append(len(self.shelf.changes))

    def ways(self) -> tuple[Way, ...]:
        return ()


class Bench:
    """A judgement over findings of one's own."""

    def __init__(self, shelf: Shelf | None = None) -> None:
        self.shelf = shelf or Shelf()
        self.ear = Ear(self.shelf)
        self.judgement = Judgement(SETTINGS, self.shelf, Memory(self.shelf.recall()), self.ear)

    def judge(self, at_s: float, own: Iterable[Finding], *, mode: Mode = ANCHORED) -> None:
        facts = but(at_s=at_s, found=tuple(own), mode=mode, sources=())
        self.judgement.judge(1, facts, False, lambda s: NOON_S + s)

    def wish(self, kind: str, subject: str, at_s: float, **facts: Any) -> list[Any]:
        return list(self.judgement.wish(Command(kind, subject, facts), 1, at_s, lambda s: NOON_S + s))


def burst(subject: str = "pump") -> Finding:
    return finding("burst", "holds", subject)


def test_it_is_on_the_card_before_it_is_heard_and_handed_out() -> None:
    bench = Bench()
    bench.judge(20_000.0, [burst()])

    assert [c.rule for c in bench.shelf.changes] == ["burst"]
    assert bench.ear.on_card == [1]
    assert bench.judgement.calls(20_000.0).sound.pattern == "alarm"
    assert bench.ear.heard[0].recorded
    assert bench.ear.posted == [(bench.ear.heard[0].id, 0)], "a kill in between loses no notice"


def test_a_card_that_stalls_does_not_keep_it_from_being_heard() -> None:
    """`Recorder.alerts` gives up after a second: heard all the same, and said to be not recorded."""
    bench = Bench(Shelf(recorded=False))
    bench.judge(20_000.0, [burst()])

    assert bench.judgement.calls(20_000.0).sound.pattern == "alarm"
    assert [n.recorded for n in bench.ear.heard] == [False]


def test_a_flood_of_a_thousand_leaves_the_gravest_on_top_and_handed_first() -> None:
    """EEMUA 191: ten in ten minutes are a flood; the alarm must not drown in it."""
    bench = Bench()
    cautions = [finding("service due", "holds", f"service {n}") for n in range(1000)]
    bench.judge(20_000.0, cautions)
    for at_s in range(20_015, 23_600, 15):
        bench.judge(float(at_s), cautions)

    bench.judge(23_600.0, [*cautions, burst()])
    bench.judge(23_615.0, [*cautions, burst()])

    calls = bench.judgement.calls(23_615.0)
    assert len(bench.shelf.changes) == 1001
    assert calls.flood >= 1000
    assert calls.sound.pattern == "alarm"
    assert [n.rule for n in bench.ear.heard if n.kind == "alert"][:1] == ["burst"]
    assert [n.kind for n in bench.ear.heard].count("flood") == 1


def test_of_what_a_flood_only_counted_no_end_is_told() -> None:
    bench = Bench()
    holds = [finding("tank nearly full", "holds", f"tank {n}") for n in range(20)]
    bench.judge(20_000.0, holds)
    clear = [finding("tank nearly full", "clear", f"tank {n}") for n in range(20)]
    for at_s in range(20_015, 20_100, 15):
        bench.judge(float(at_s), clear)

    assert {c.state for c in bench.shelf.changes} == {"active", "ended"}
    assert [n.kind for n in bench.ear.heard] == ["flood"]


def test_one_situation_is_handed_out_once_through_a_restart() -> None:
    bench = Bench()
    bench.judge(20_000.0, [burst()])
    after = Bench(bench.shelf)
    after.judge(20_030.0, [burst()])

    assert [n.what for n in bench.ear.heard] == ["began"]
    assert after.ear.heard == []
    assert after.judgement.calls(20_030.0).sound.pattern == "alarm", "what nobody has seen sounds again"


def test_the_same_transition_has_the_same_name_every_time() -> None:
    one, other = Bench(), Bench()
    one.judge(20_000.0, [burst()])
    other.judge(20_000.0, [burst()])

    assert one.ear.heard[0].id == other.ear.heard[0].id


def test_what_the_crew_does_is_told_on_every_way() -> None:
    bench = Bench()
    bench.judge(20_000.0, [burst()])
    alert = bench.shelf.changes[0].alert
    bench.wish("shelve", alert, 20_010.0, minutes=15)
    bench.wish("unshelve", "pump", 20_020.0, rule="burst")
    bench.wish("acknowledge", alert, 20_030.0)

    told = [(n.what, n.state) for n in bench.ear.heard]
    assert told == [
        ("began", "active"), ("shelved", "shelved"), ("unshelved", "active"),
        ("acknowledged", "acknowledged"),
    ]  # fmt: skip
    assert bench.judgement.calls(20_040.0).sound.pattern == ""


def test_two_minutes_without_an_answer_take_the_second_way() -> None:
    bench = Bench()
    for at_s in range(20_000, 20_181, 15):
        bench.judge(float(at_s), [burst()])

    assert [(n.what, n.second) for n in bench.ear.heard] == [("began", False), ("escalated", True)]
    assert bench.ear.heard[1].at_s - bench.ear.heard[0].at_s == 120.0


def test_a_limit_the_crew_changed_holds_after_a_restart() -> None:
    bench = Bench()
    bench.judge(20_000.0, [])
    (event,) = bench.wish("rule", "", 20_001.0, rule="low charge", limit=45)
    after = Bench(bench.shelf)

    assert event.facts == {"rule": "low charge", "limit": 45}
    assert after.judgement.rulebook.limit("low charge", "house", ANCHORED, 2) == 45
    after.judge(20_010.0, [])
    after.wish("rule reset", "", 20_011.0, rule="low charge")
    assert after.judgement.rulebook.limit("low charge", "house", ANCHORED, 2) == 30


def test_a_job_is_an_event_and_is_over_when_somebody_says_so() -> None:
    bench = Bench()
    bench.judge(20_000.0, [])
    (begun,) = bench.wish("job", "washing down", 20_001.0)
    assert (begun.subject, begun.end_s) == ("washing down", 20_001.0 + 3600)
    assert [job.name for job in bench.judgement.calls(20_002.0).jobs] == ["washing down"]

    bench.wish("job over", "washing down", 20_010.0)
    assert bench.judgement.calls(20_011.0).jobs == ()


def test_a_trial_reaches_every_way() -> None:
    bench = Bench()
    bench.wish("try ways", "ways", 20_000.0)

    assert [(n.kind, n.reason) for n in bench.ear.heard] == [("test", Reason("way tried"))]


@pytest.mark.parametrize("minutes", ["soon", None, float("nan")])
def test_a_span_that_is_none_is_named(minutes: object) -> None:
    bench = Bench()
    bench.judge(20_000.0, [burst()])

    with pytest.raises(CommandError, match="min"):
        bench.wish("shelve", bench.shelf.changes[0].alert, 20_010.0, minutes=minutes)


def test_the_watch_says_how_every_rule_stands() -> None:
    bench = Bench()
    bench.judge(
        20_000.0, [finding("low voltage", "silent", "starter"), finding("leak above the pump", "holds")]
    )
    states = {(s.rule, s.subject): s for s in bench.judgement.calls(20_000.0).rules}

    assert states["low voltage", "starter"].state == "stale"
    assert states["low charge", "house"].state == "normal"
    assert states["low charge", "house"].limit == 30
    assert states["leak above the pump", "it"].state == "active"
