"""The preview against the book of alerts itself, stepped over the same values, and examples by hand."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.alerts.book import AlertBook
from monitor.alerts.facts import Facts
from monitor.alerts.findings import findings
from monitor.alerts.limits import LIMITS
from monitor.alerts.preview import Floats, Situation, low_charge, open_spans, outlook, situation
from monitor.alerts.rules import RULES, Rule
from monitor.clock import Interval
from monitor.records import Finding, Reason, Severity
from tests.alerts.boat import NOW_S, SETTINGS, estimate

MIN, H, DAY = 60.0, 3600.0, 86400.0
NAN = float("nan")
LOW_WATER = LIMITS["low water"]


def stepped(rule: Rule, s: Situation) -> list[tuple[float, float | None]]:
    """What the real book does at these steps: begins and ends."""
    book = AlertBook({rule.id: rule})
    begins: list[float] = []
    ends: list[float] = []
    for n, at_s in enumerate(s.at_s.tolist()):
        heard = bool(s.heard[n])
        found = Finding(
            rule.id,
            "it",
            bool(s.holds[n]) if heard else None,
            bool(s.clears[n]) if heard else None,
            Reason("seen"),
            urgent=bool(s.urgent[n]) if s.urgent is not None else False,
        )
        for change in book.step(1, at_s, [found]):
            if change.what in ("began", "came back"):
                begins.append(at_s)
            elif change.what in ("went", "ended"):
                ends.append(at_s)
    return list(zip(begins, [*ends, None][: len(begins)], strict=True))


def told(rule: Rule, s: Situation) -> list[tuple[float, float | None]]:
    return [(float(s.at_s[b]), None if e is None else float(s.at_s[e])) for b, e in open_spans(rule, s)]


@st.composite
def histories(draw: st.DrawFn) -> tuple[Rule, Situation]:
    """Runs of low, in between, high and unheard minutes, with stretches in which nobody looked."""
    minutes = st.sampled_from([0.0, 60.0, 60.0, 300.0, 900.0])
    rule = Rule(
        "low water",
        draw(st.sampled_from(list(Severity))),
        draw(minutes),
        draw(minutes),
        4 * H,
        urgent_delay_s=draw(st.sampled_from([None, 0.0, 60.0])),
    )
    runs = draw(
        st.lists(st.tuples(st.sampled_from([5.0, 20.0, 31.0, 40.0, NAN]), st.integers(1, 25)), min_size=1)
    )
    values = np.array([value for value, count in runs for _ in range(count)])
    steps = draw(st.lists(st.sampled_from([60.0] * 12 + [15.0, 180.0, 181.0, 4000.0]), min_size=1))
    at_s = 1000.0 + np.cumsum(np.resize(np.array(steps), len(values)))
    s = situation(LOW_WATER, at_s, values, 30.0, 5.0)
    return rule, s._replace(urgent=np.nan_to_num(values, nan=99.0) < 10.0)


@given(histories())
def test_it_agrees_with_the_book_to_the_minute(history: tuple[Rule, Situation]) -> None:
    rule, s = history
    assert told(rule, s) == stepped(rule, s)


@given(st.integers(0, 2**32 - 1), st.sampled_from([0.0, 60.0]), st.sampled_from([60.0, 120.0, 600.0]))
def test_it_agrees_where_things_come_and_go(seed: int, on_s: float, off_s: float) -> None:
    rng = np.random.default_rng(seed)
    values = np.where(rng.random(240) < 0.3, 20.0, 40.0)
    s = situation(LOW_WATER, 60.0 * np.arange(240, dtype=np.float64), values, 30.0, 5.0)
    rule = replace(RULES["low water"], on_delay_s=on_s, off_delay_s=off_s)
    assert told(rule, s) == stepped(rule, s)


@given(st.floats(0, 100), st.floats(0, 100), st.floats(5, 90))
def test_a_charge_is_judged_as_the_finding_judges_it(likely: float, low: float, limit: float) -> None:
    limits = SETTINGS.limits.model_copy(update={"low_charge_pct": limit})
    facts = Facts(
        settings=SETTINGS.model_copy(update={"limits": limits}),
        at_s=NOW_S,
        started_s=0.0,
        heads=2,
        values={},
        estimates={("charge_pct", "house"): estimate("charge_pct", "house", likely, low)},
        last_full_s={"house": 0.0},
    )
    found = next(f for f in findings(facts) if f.rule == "low charge")
    s = low_charge(np.zeros(1), np.array([likely]), np.array([low]), limit)
    assert (bool(s.holds[0]), bool(s.clears[0])) == (found.holds, found.clears)


def minutes(*runs: tuple[float, int]) -> tuple[Floats, Floats]:
    values = np.array([value for value, count in runs for _ in range(count)], np.float64)
    return MIN * np.arange(len(values), dtype=np.float64), values


def test_a_day_by_hand() -> None:
    """Minutes 0-99 at 40 L, 100-219 at 20 L, from 220 on at 40 L, until minute 1440. The limit is 30 L, the
    delays 10 and 30 min: it opens at minute 110 and is over at 250: 140 min, of 1439 min that were heard.
    All sleep until minute 130: it sounds then, for 120 min."""
    at_s, values = minutes((40.0, 100), (20.0, 120), (40.0, 1220))
    s = situation(LOW_WATER, at_s, values, 30.0, 5.0)
    nights = [Interval(0, 109 * MIN), Interval(240 * MIN, 300 * MIN), Interval(600 * MIN, 700 * MIN)]
    found = outlook(RULES["low water"], s, at_s >= 130 * MIN, nights)
    assert found.spans == ((110 * MIN, 250 * MIN),)
    assert (found.times, found.lasts, found.for_ever) == (1, False, False)
    assert found.sounded_s == (130 * MIN,)
    assert found.sounding_s == 120 * MIN
    assert found.open_s == 140 * MIN
    assert found.heard_s == 1439 * MIN
    assert found.share == pytest.approx(140 / 1439)
    assert found.longest_s == 140 * MIN
    assert (found.nights, found.of_nights) == (1, 3)


def test_who_is_heard_when() -> None:
    """Asleep throughout: an alarm sounds, a warning that wakes, too; a warning and a caution do not."""
    at_s, values = minutes((40.0, 10), (20.0, 30), (40.0, 60))
    s = situation(LOW_WATER, at_s, values, 30.0, 5.0)
    asleep = np.zeros(len(at_s), bool)
    warning = replace(RULES["low water"], on_delay_s=0, off_delay_s=0)
    for rule, sounded in (
        (replace(warning, severity=Severity.ALARM), (10 * MIN,)),
        (replace(warning, wakes=True), (10 * MIN,)),
        (warning, ()),
        (replace(warning, severity=Severity.CAUTION), ()),
    ):
        found = outlook(rule, s, asleep, [])
        assert found.sounded_s == sounded
        assert found.sounding_s == len(sounded) * 30 * MIN
    raised = s._replace(raised=at_s == 25 * MIN)
    found = outlook(replace(warning, raised=Severity.ALARM), raised, asleep, [])
    assert found.sounded_s == (25 * MIN,)
    assert found.sounding_s == 15 * MIN  # From the 25th minute to the 40th: once raised it stays so.


def test_what_is_open_most_of_the_time_would_sound_for_ever() -> None:
    at_s, values = minutes((20.0, 800), (40.0, 640))
    s = situation(LOW_WATER, at_s, values, 30.0, 5.0)
    assert outlook(RULES["low water"], s, np.ones(1440, bool), []).for_ever
    assert not outlook(
        RULES["low water"], s._replace(holds=s.holds & (at_s > 400 * MIN)), np.ones(1440, bool), []
    ).for_ever


def test_what_never_ends_would_sound_for_ever() -> None:
    """Of 100 days the last 8 are low: 8 % of the time, and no end of it. Of 6 days it is not said."""
    for days, for_ever in ((8, True), (6, False)):
        at_s, values = minutes((40.0, (100 - days) * 1440), (20.0, days * 1440))
        s = situation(LOW_WATER, at_s, values, 30.0, 5.0)
        found = outlook(RULES["low water"], s, np.ones(len(at_s), bool), [])
        assert found.lasts
        assert found.for_ever == for_ever


def test_silence_neither_begins_nor_ends_nor_counts() -> None:
    """Low from minute 10 to 30, then silent for nine days: it stays open, but for 21 min of hearing."""
    at_s, values = minutes((40.0, 10), (20.0, 20), (NAN, 9 * 1440))
    s = situation(LOW_WATER, at_s, values, 30.0, 5.0)
    found = outlook(RULES["low water"], s, np.ones(len(at_s), bool), [])
    assert found.spans[0][0] == 20 * MIN
    assert found.lasts
    assert found.heard_s == 30 * MIN
    assert not found.for_ever


def test_a_limit_that_changes_with_the_mode() -> None:
    at_s, values = minutes((35.0, 100))
    limit = np.where(at_s < 50 * MIN, 30.0, 40.0)
    s = situation(LOW_WATER, at_s, values, limit, 5.0)
    assert told(RULES["low water"], s) == [(60 * MIN, None)]


def test_nothing_recorded_is_nothing_seen() -> None:
    empty = np.zeros(0)
    s = situation(LOW_WATER, empty, empty, 30.0, 5.0)
    found = outlook(RULES["low water"], s, np.zeros(0, bool), [])
    assert (found.times, found.heard_s, found.share, found.for_ever) == (0, 0.0, 0.0, False)
