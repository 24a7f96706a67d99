"""What became of alerts, by hand. The yardsticks of EEMUA 191 and IEC 62682 are from memory."""

from dataclasses import replace

import numpy as np
import pytest

from monitor.alerts.limits import LIMITS
from monitor.alerts.preview import Outlook, outlook, situation
from monitor.alerts.rules import HOUR_S, MINUTE_S, RULES
from monitor.alerts.score import (
    A_DAY_MOST,
    DOUBTFUL,
    FALSE,
    TEN_MINUTES_MOST,
    TRUE,
    UNKNOWN,
    a_hundred_nights,
    candidates,
    lives,
    loudest,
    proposal,
    tallies,
    worst,
)
from monitor.clock import DAY_S
from monitor.records import AlertChange, Reason, RuleChange, Severity
from monitor.words.scores import SENTENCES

W, A, C = Severity.WARNING, Severity.ALARM, Severity.CAUTION
Told = list[tuple[AlertChange, float | None]]


def one(alert: str, rule: str, *steps: tuple[str, str, float], severity: Severity = W) -> Told:
    """Steps of (what, state, minutes of UTC)."""
    return [
        (AlertChange(alert, rule, "it", severity, 1, at * 60, state, Reason("seen"), what), at * MINUTE_S)
        for what, state, at in steps
    ]


SEEN = one(
    "a", "low water", ("began", "active", 0), ("acknowledged", "acknowledged", 4), ("ended", "ended", 60)
)
BRIEF = one(
    "b", "low water", ("began", "active", 100), ("went", "returned", 108), ("acknowledged", "ended", 500)
)
OPEN = one("c", "low water", ("began", "active", 700), ("escalated", "active", 1060))
MUTE = one("d", "water old", ("began", "active", 10), ("ended", "ended", 100), severity=C)


def test_what_became_of_each() -> None:
    """A warning of low water wants somebody within 12 h. a: seen after 4 min, over after 60: acted on. b:
    over after 8 min, seen long after: doubtful, nobody did anything. c: open for 13 h, unseen. d: a
    caution."""
    a, d, b, c = lives([*SEEN, *BRIEF, *OPEN, *MUTE], {}, RULES, now_s=1480 * MINUTE_S)
    assert (a.seen_after_s, a.over_after_s, a.acted, a.word, a.sounded) == (240, 3600, True, UNKNOWN, True)
    assert (b.seen_after_s, b.over_after_s, b.acted, b.word) == (400 * 60, 480, False, DOUBTFUL)
    assert (c.over_after_s, c.acted, c.escalated) == (None, False, True)
    assert (d.sounded, d.severity) == (False, C)


def test_while_there_is_time_nobody_is_blamed() -> None:
    assert lives(OPEN, {}, RULES, now_s=710 * MINUTE_S)[0].acted is None


def test_a_deed_in_time_is_acting_too() -> None:
    """A fill five minutes after it began, and it was over after eight; one before it began is none."""
    assert lives(BRIEF, {}, RULES, 9e9, deeds=[105 * MINUTE_S])[0].acted
    assert not lives(BRIEF, {}, RULES, 9e9, deeds=[90 * MINUTE_S])[0].acted


def test_the_crews_word_comes_first() -> None:
    assert [x.word for x in lives([*SEEN, *BRIEF], {"a": False, "b": True}, RULES, 9e9)] == [FALSE, TRUE]


def test_the_gravest_grade_and_the_shelf() -> None:
    changes = one("a", "cut coming", ("began", "active", 0), ("shelved", "shelved", 1))
    changes += one("a", "cut coming", ("raised", "active", 2), severity=A)
    life = lives(changes, {}, RULES, 180.0)[0]
    assert (life.severity, life.shelved, life.over_after_s) == (A, True, None)


def test_three_within_ten_minutes_chatter() -> None:
    """At 0, 4, 9 min: three in ten. That at 30 min stands alone."""
    changes = [
        c for n, at in enumerate((0, 4, 9, 30)) for c in one(str(n), "low water", ("began", "active", at))
    ]
    assert [life.chattered for life in lives(changes, {}, RULES, 9e9)] == [True, True, True, False]


def test_a_month_of_a_rule() -> None:
    """Three warnings in 30 days: ten in a hundred nights. Seen after 4 and 400 min: the median is 202."""
    found = {t.rule: t for t in tallies(lives([*SEEN, *BRIEF, *OPEN, *MUTE], {"c": False}, RULES, 9e9), 30)}
    water = found["low water"]
    assert (water.count, water.sounding, water.false, water.doubtful, water.escalated) == (3, 3, 1, 1, 1)
    assert water.a_hundred_nights == pytest.approx(10)
    assert water.seen_median_s == 202 * MINUTE_S
    assert not water.never_acted_on
    assert found["water old"].never_acted_on
    assert a_hundred_nights(0, 0) == 0.0


def test_the_worst_have_a_reason() -> None:
    tally = tallies(lives([*SEEN, *BRIEF, *OPEN, *MUTE], {"c": False}, RULES, 9e9), 30)
    ranked = worst(tally)
    assert [w.tally.rule for w in ranked] == ["low water"]  # The caution never sounded and was never false.
    assert ranked[0].why.id == "score: false"


def test_the_yardsticks_of_the_trade() -> None:
    """12 in twelve minutes are ten in ten: no more than ten, so no flood yet. 144 a day, one in ten minutes,
    is what the standards still call acceptable."""
    close = [c for n in range(12) for c in one(str(n), "low water", ("began", "active", n))]
    assert loudest(lives(close, {}, RULES, 9e9)) == (12, TEN_MINUTES_MOST)
    even = [c for n in range(288) for c in one(str(n), "low water", ("began", "active", 10 * n))]
    a_day, ten_minutes = loudest(lives(even, {}, RULES, 9e9))
    assert (a_day, ten_minutes) == (144, 1)
    assert a_day <= A_DAY_MOST


def test_a_smaller_limit_is_proposed_from_what_it_would_have_done() -> None:
    """Nine evenings down to 28 %, one to 18 %, under a limit of 30 %. The limit may go from 5 to 90 %: a step
    is 4.25 %. 25.75 % would have sounded once."""
    row, rule = LIMITS["low water"], replace(RULES["low water"], on_delay_s=600, off_delay_s=600)
    at_s = 60.0 * np.arange(10 * 1440, dtype=np.float64)
    evening = (at_s % DAY_S > 20 * HOUR_S) & (at_s % DAY_S < 23 * HOUR_S)
    values = np.where(evening, np.where(at_s > 9 * DAY_S, 18.0, 28.0), 60.0)

    def run(change: RuleChange) -> Outlook:
        limit = 30.0 if change.limit is None else change.limit
        delayed = rule if change.on_delay_s is None else replace(rule, on_delay_s=change.on_delay_s)
        return outlook(delayed, situation(row, at_s, values, limit, 3.0), np.ones(len(at_s), bool), [])

    now = run(RuleChange("low water"))
    tries = candidates(rule, row, "", 30.0, 5.0, 90.0, 3.0)
    assert [c.limit for c in tries[:3]] == [25.75, 21.5, 13.0]
    found = proposal(now, tries, run, "%")
    assert found is not None
    assert found[1] == RuleChange("low water", limit=25.75)
    facts = dict(found[0].facts)
    assert (facts["times"], facts["instead"], facts["limit"]) == (1, 10, 25.75)
    assert found[0].id in SENTENCES
    assert proposal(run(tries[0]), tries, run, "%") is None  # Once is nothing to better.


def test_a_delay_is_no_longer_than_the_time_to_respond() -> None:
    rule = RULES["low voltage"]
    delays = [c.on_delay_s for c in candidates(rule, LIMITS[rule.id], "house", 12, 10.8, 13, 0.2)]
    assert [d for d in delays if d] == [120.0, 240.0, 480.0]  # Under ten minutes.
