"""The capacity from what lies between a full charge and the lower knee."""

import json
from collections.abc import Sequence

import numpy as np
import pytest
from pydantic import ValidationError

from monitor.estimation.capacity import Capacity
from monitor.settings import Bank

DEPTH_SD, DRAWN_SD_AH = 0.03, 3.0
Pair = tuple[float, float]


def pairs(rng: np.random.Generator, capacities_Ah: Sequence[float]) -> list[Pair]:
    """Depth as the knee has it, and what was counted for it."""
    return [
        (depth + float(rng.normal(0, DEPTH_SD)), depth * Ah + float(rng.normal(0, DRAWN_SD_AH)))
        for Ah, depth in zip(capacities_Ah, rng.uniform(0.72, 0.9, len(capacities_Ah)).tolist(), strict=True)
    ]


def taught(
    seen: Sequence[Pair], label_Ah: float = 400.0, label_sd: float = 0.08, days: float = 1.0
) -> Capacity:
    capacity = Capacity(label_Ah, label_sd)
    for depth, drawn_Ah in seen:
        capacity.wait(days)
        capacity.pair(depth, drawn_Ah, DEPTH_SD, DRAWN_SD_AH, 0.0)
    return capacity


@pytest.mark.parametrize("seed", range(5))
def test_it_is_the_total_least_squares_line_of_the_same_pairs(seed: int) -> None:
    """Total least squares by singular values (Golub and Van Loan 1980): the line through the origin across
    which the scaled pairs, weighed by the same forgetting, scatter least. The label says next to nothing:
    within a quarter of its own standard deviation."""
    seen = pairs(np.random.default_rng(seed), [360.0] * 8)

    found = taught(seen, label_sd=0.5).learned()

    weights = 0.98 ** np.arange(len(seen))[::-1, None]
    across = np.linalg.svd(weights**0.5 * np.array(seen) / [DEPTH_SD, DRAWN_SD_AH])[2][-1]
    assert found.Ah == pytest.approx(-across[0] / across[1] * DRAWN_SD_AH / DEPTH_SD, abs=found.sd_Ah / 4)


@pytest.mark.parametrize("seed", range(5))
def test_least_and_curvature_are_those_of_the_weighted_sum_of_squares(seed: int) -> None:
    """WTLS itself, chi2 = sum w (y - Q x)² / (Q² sx² + sy²), with the label as a first pair and the same
    forgetting, worked out every 0.1 Ah; its variance 2 / chi2'' by differences."""
    seen = pairs(np.random.default_rng(100 + seed), [370.0] * 12)
    part = 0.08 / (1 + 1 / 25) ** 0.5
    rows = [(1.0, 400.0, part, 400.0 * part / 5)] + [(x, y, DEPTH_SD, DRAWN_SD_AH) for x, y in seen]
    x, y, sx, sy = np.array(rows).T[:, :, None]
    weights = 0.98 ** np.arange(len(rows))[::-1, None]
    Q = np.arange(250.0, 550.0, 0.1)
    chi2 = (weights * (y - Q * x) ** 2 / (Q**2 * sx**2 + sy**2)).sum(axis=0)
    at = int(np.argmin(chi2))
    bend = float(chi2[at + 10] - 2 * chi2[at] + chi2[at - 10])

    found = taught(seen).learned()

    assert found.Ah == pytest.approx(Q[at], abs=0.15 * (2 / bend) ** 0.5)
    assert found.sd_Ah == pytest.approx((2 / bend) ** 0.5, rel=0.15)


def test_ordinary_least_squares_are_biased_where_these_are_not() -> None:
    """The reason for total least squares (Plett 2011): with the depth in doubt the slope of y on x is
    too small by sx² / mean(x²). 400 banks of twelve pairs at depths that are worth little each."""
    rng = np.random.default_rng(7)
    total, ordinary = [], []
    for _ in range(400):
        capacity = Capacity(400.0, 0.5)
        sxy = sxx = 0.0
        for depth in rng.uniform(0.7, 0.9, 12):
            x, y = float(depth + rng.normal(0, 0.08)), float(depth * 400.0 + rng.normal(0, 4.0))
            if capacity.pair(x, y, 0.08, 4.0, 0.0):
                sxy, sxx = sxy + x * y, sxx + x * x
        total.append(capacity.learned().Ah)
        ordinary.append(sxy / sxx)

    assert abs(np.mean(total) / 400.0 - 1) < 0.5 * abs(np.mean(ordinary) / 400.0 - 1)


@pytest.mark.parametrize("every_days", [7, 14, 30])
def test_a_bank_that_fades_by_a_fifth_in_a_year_is_followed(every_days: int) -> None:
    """60 banks of 400 Ah; at the year's end 320 Ah are left. The mean lags by less than the 5 % that the
    last quarter took, and the 90 % band holds the truth in 85 % and more."""
    errors, inside = [], []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        at = np.arange(every_days, 366, every_days)
        found = taught(pairs(rng, (400.0 * (1 - 0.2 * at / 365)).tolist()), days=every_days).learned()
        errors.append(found.Ah - 320.0)
        inside.append(abs(errors[-1]) <= 1.645 * found.sd_Ah)

    assert abs(np.mean(errors)) < 0.05 * 400
    assert np.mean(inside) >= 0.85


def test_what_every_pair_has_does_not_shrink_with_their_number() -> None:
    """A curve that is 4 % of depth off is off in all fifty."""
    capacity = Capacity(400.0, 0.08)
    for _ in range(50):
        capacity.pair(0.8, 320.0, 0.05, 3.0, 0.04)

    assert capacity.learned().sd_Ah >= 0.04 / 0.8 * 400 * 0.99


def test_one_strange_pair_teaches_nothing_and_two_mean_another_bank() -> None:
    capacity = taught([(0.85, 340.0)] * 5)
    before = capacity.learned()

    assert not capacity.pair(0.85, 170.0, DEPTH_SD, DRAWN_SD_AH, 0.0)
    assert capacity.learned() == before
    assert not capacity.changed

    assert capacity.pair(0.85, 170.0, DEPTH_SD, DRAWN_SD_AH, 0.0)
    assert capacity.changed
    assert capacity.learned().Ah == pytest.approx(200.0, rel=0.03)
    assert capacity.learned().sd_Ah > before.sd_Ah / 2

    assert capacity.pair(0.85, 171.0, DEPTH_SD, DRAWN_SD_AH, 0.0)
    assert not capacity.changed


@pytest.mark.parametrize(
    ("depth", "drawn_Ah"), [(0.5, 200.0), (0.8, -5.0), (1.1, 400.0), (0.8, float("nan"))]
)
def test_what_is_no_pair_is_not_taken(depth: float, drawn_Ah: float) -> None:
    """A depth under 60 %, or numbers that cannot be."""
    capacity = Capacity(400.0, 0.08)

    assert not capacity.pair(depth, drawn_Ah, DEPTH_SD, DRAWN_SD_AH, 0.0)
    assert capacity.learned().Ah == pytest.approx(400.0, rel=1e-3)
    assert capacity.learned().sd_Ah == pytest.approx(32.0, rel=0.1)


def test_a_restart_keeps_it() -> None:
    capacity = taught([(0.8, 300.0), (0.7, 262.0)])
    again = Capacity(400.0, 0.08)

    again.restore(json.loads(json.dumps(capacity.state())))

    assert again.learned() == capacity.learned()
    assert again.pairs == 2


@pytest.mark.parametrize(
    "wrong", [{"capacity_Ah": 0.0}, {"capacity_Ah": -400.0}, {"capacity_Ah": float("nan")}]
)
def test_a_bank_without_capacity_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValidationError):
        Bank(name="house", **wrong)


@pytest.mark.parametrize(
    "wrong",
    [{"reserve_pct": 100.0}, {"reserve_pct": -1.0}, {"tail_A": 0.0}, {"full_V": -14.2}, {"nominal_V": 0.0}],
)
def test_absurd_limits_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValidationError):
        Bank(name="house", capacity_Ah=400.0, **wrong)
