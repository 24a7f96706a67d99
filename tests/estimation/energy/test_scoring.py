"""Forecasts followed: what settles them, what makes them void, and the share that held against scipy."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta  # type: ignore[import-untyped]

from monitor.clock import DAY_S, HOUR_S, MINUTE_S
from monitor.estimation.scoring import HORIZON_DAYS, Outcome, Scores, beta_quantiles

START_S = 1_780_012_800.0


def live(
    scores: Scores, from_s: float, days: float, used_a_day: float = 1440.0, above: float | None = 500.0
) -> list[Outcome]:
    """Minutes of steady use from there on, with so much above the reserve all the while."""
    minutes = round(days * DAY_S / MINUTE_S)
    return [
        outcome
        for n in range(1, minutes + 1)
        for outcome in scores.see(from_s + n * MINUTE_S, used_a_day / 1440, above)
    ]


def begun() -> Scores:
    scores = Scores()
    scores.see(START_S, 0.0, 500.0)
    return scores


@pytest.mark.parametrize(("cautious", "held"), [(1.9, True), (2.1, False)])
def test_with_no_charging_the_truth_is_when_as_much_has_been_used(cautious: float, held: bool) -> None:
    """2880 Wh above the reserve at 1440 Wh a day are two days (own arithmetic), whatever is charged."""
    scores = begun()
    scores.promise(START_S, cautious, 2.5, 2880.0, charging=False)

    (outcome,) = live(scores, START_S, 3.0)

    assert outcome.truth_days == pytest.approx(2.0, abs=0.001)
    assert outcome.held is held
    assert (outcome.made_at_s, outcome.charging, outcome.likely_days) == (START_S, False, 2.5)


def test_with_charging_the_cautious_day_is_outlived_or_the_reserve_met_before() -> None:
    scores = begun()
    scores.promise(START_S, 1.0, 2.0, 2880.0, charging=True)
    (outlived,) = live(scores, START_S, 1.1)
    scores.promise(START_S + 1.1 * DAY_S, 1.0, 2.0, 2880.0, charging=True)
    early = live(scores, START_S + 1.1 * DAY_S, 0.5) + live(scores, START_S + 1.6 * DAY_S, 0.1, above=-1.0)

    assert (outlived.held, outlived.truth_days) == (True, None)
    assert [o.held for o in early] == [False]
    assert early[0].truth_days == pytest.approx(0.5, abs=0.001)


def test_what_is_not_used_within_the_horizon_has_held() -> None:
    scores = begun()
    scores.promise(START_S, HORIZON_DAYS, HORIZON_DAYS, 1e6, charging=False)

    (outcome,) = live(scores, START_S, HORIZON_DAYS + 0.1)

    assert (outcome.held, outcome.truth_days) == (True, None)


@pytest.mark.parametrize(("gap_h", "left"), [(2.5, 1), (3.5, 0)])
def test_a_forecast_over_too_long_a_gap_is_void(gap_h: float, left: int) -> None:
    """Three hours of silence are borne, more are not."""
    scores = begun()
    scores.promise(START_S, 1.9, 2.5, 2880.0, charging=False)

    found = live(scores, START_S + gap_h * HOUR_S, 3.0)

    assert len(found) == left
    assert all(outcome.truth_days == pytest.approx(2.0 + gap_h / 24, abs=0.01) for outcome in found)


def test_minutes_without_readings_count_as_not_heard() -> None:
    scores = begun()
    scores.promise(START_S, 1.0, 2.5, 2880.0, charging=True)

    assert live(scores, START_S, 4 / 24, above=None) == []
    assert live(scores, START_S + 4 * HOUR_S, 2.0) == []


def test_a_clock_set_back_makes_void_and_a_small_correction_does_not() -> None:
    for back_s, left in ((60.0, 1), (2 * DAY_S, 0)):
        scores = begun()
        scores.promise(START_S, 1.0, 2.5, 2880.0, charging=True)
        assert len(live(scores, START_S - back_s, 4.0)) == left


def test_nothing_is_promised_at_the_reserve_or_within_the_hour() -> None:
    scores = begun()
    scores.promise(START_S, 1.0, 2.0, 0.0, charging=True)
    scores.promise(START_S, 0.03, 2.0, 500.0, charging=True)

    assert live(scores, START_S, 1.5) == []


def test_the_share_that_held_with_the_band_of_forecasts_that_overlap() -> None:
    """Forty forecasts, one every six hours, each settled two days after it was made: 32 held. They overlap
    eightfold, so they say as much as five alone, of which four held: Jeffreys' posterior is beta(4.5, 1.5),
    its 5 % and 95 % quantiles by scipy. Until three alone are settled nothing is told."""
    scores = begun()
    for n in range(40):
        at_s = START_S + n * 6 * HOUR_S
        assert (scores.hits(charging=False).share is None) == (n - 7 < 3 * 8)
        scores.promise(at_s, 2.1 if n % 5 == 0 else 1.9, 2.5, 2880.0, charging=False)
        live(scores, at_s, 0.25)
    live(scores, START_S + 10 * DAY_S, 2.1)

    hits = scores.hits(charging=False)

    assert (hits.share, hits.forecasts, hits.held) == (0.8, 40, 32)
    assert hits.low == pytest.approx(beta.ppf(0.05, 4.5, 1.5), abs=0.002)
    assert hits.high == pytest.approx(beta.ppf(0.95, 4.5, 1.5), abs=0.002)
    assert scores.hits(charging=True).share is None


@given(a=st.floats(0.5, 400.0), b=st.floats(0.5, 400.0))
def test_the_quantiles_are_those_of_the_beta_distribution(a: float, b: float) -> None:
    """Against scipy."""
    found = beta_quantiles(a, b, (0.05, 0.5, 0.95))

    assert found == pytest.approx(beta.ppf([0.05, 0.5, 0.95], a, b), abs=1e-3)


def test_a_restart_loses_nothing_and_its_gap_is_seen() -> None:
    scores = begun()
    for n in range(12):
        scores.promise(START_S + n * 6 * HOUR_S, 1.9, 2.5, 2880.0, charging=False)
        live(scores, START_S + n * 6 * HOUR_S, 0.25)
    again = Scores()
    again.restore(json.loads(json.dumps(scores.state())))
    at_s = START_S + 3 * DAY_S

    ours, theirs = live(scores, at_s, 2.5), live(again, at_s, 2.5)  # Five of twelve were settled before.

    assert len(theirs) == len(ours) == 7
    for one, other in zip(ours, theirs, strict=True):
        assert other.truth_days == pytest.approx(one.truth_days, abs=0.01)
        assert (other.made_at_s, other.held) == (one.made_at_s, one.held)
    assert again.hits(charging=False).forecasts == scores.hits(charging=False).forecasts


def test_the_state_is_small_even_when_everything_lasts_ten_days() -> None:
    """It is stored with every minute: two kinds, four a day, ten days."""
    scores = begun()
    for n in range(40):
        at_s = START_S + n * 6 * HOUR_S
        for charging in (True, False):
            scores.promise(at_s, 10.0, 10.0, 50_000.0, charging)
        live(scores, at_s, 0.2)

    assert len(json.dumps(scores.state(), separators=(",", ":"))) < 2500
