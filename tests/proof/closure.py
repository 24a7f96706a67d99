"""Whether full charges teach the sensor's offset: a bank of 400 Ah, filled every 2 to 10 days.

The bank is counted in steps of an hour. The sensor has a fixed offset (one sigma 150 mA) and gain (one
sigma 0.5 %), and 10 mA are drawn past it. The plain count is the usual one: it begins at 100 % at each
full and believes its sensor. The error is that of the count just before each full charge is seen.

Where the noise comes from, in two generators. What a closure misses for other reasons than the offset is
0.5 % of the capacity (one sigma) in either, for a gap of six days.

- *fulls*: every full charge stands off the true full by 0.3 % of the capacity (one sigma; two of them make
  0.42 %), and the sensor's offset comes and goes by 10 mA (1 µV at a 500 A, 50 mV shunt, common practice)
  with a memory of three days, which adds 0.27 %. A full that was off ends one gap and begins the next.
- *gaps*: every full charge is exact, and each gap, long or short, misses 0.5 % on its way.

The *oracle* beside the count is the exact Bayesian of its generator: it knows all variances, the gain, the
drain and the loss, and not the offset, the fulls' errors or what the sensor wandered. Nothing that only
hears the sensor and the fulls can be better on the average.
"""

from collections.abc import Mapping, Sequence
from functools import cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.estimation.bands import BAND_90
from monitor.estimation.counting import ChargeCount
from monitor.estimation.full import SD_SHARE
from monitor.estimation.priors import PRIORS
from tests.proof.harness import Case, Row, outside

Floats = npt.NDArray[np.float64]

ESTIMATOR = ("counting", "full", "priors", "repeats")
CAPACITY_AH = 400.0
GAPS = 6
FEW = 200
BELIEVED_SD_AH = SD_SHARE * CAPACITY_AH
"""What the estimator believes of each full."""
OFFSET_SD_A, GAIN_SD, DRAIN_A, LOSS = 0.15, 0.005, 0.010, 0.004


class Noise(NamedTuple):
    """One sigma of each full charge and of each gap [Ah], and of an offset that comes and goes [A]."""

    full_Ah: float
    gap_Ah: float
    comes_A: float


FULLS = Noise(0.003 * CAPACITY_AH, 0.0, 0.010)
GAPS_MISS = Noise(0.0, 0.005 * CAPACITY_AH, 0.0)
KEEPS = float(np.exp(-1 / 72))
"""Of an offset that comes and goes, from hour to hour."""


class Gap(NamedTuple):
    """True charge below full at its end [Ah], and what the sensor said by the hour [A]."""

    below_Ah: float
    seen_A: Floats
    charged_Ah: float


def gaps(seed: int, noise: Noise) -> tuple[float, list[Gap]]:
    """The sensor's gain, and one gap after another."""
    rng = np.random.default_rng(seed)
    offset_A, gain = rng.normal(0.0, OFFSET_SD_A), 1 + rng.normal(0.0, GAIN_SD)
    below_Ah = rng.normal(0.0, noise.full_Ah)
    comes_A, found = rng.normal(0.0, noise.comes_A), []
    for _ in range(GAPS):
        hours = int(rng.integers(48, 241))
        full_Ah = rng.normal(0.0, noise.full_Ah)
        true_A = _currents(rng, hours, below_Ah - full_Ah)
        below_Ah = full_Ah
        seen_A = gain * true_A + offset_A + rng.normal(0.0, noise.gap_Ah / np.sqrt(hours), hours)
        for hour, turn in enumerate(rng.normal(0.0, noise.comes_A * np.sqrt(1 - KEEPS**2), hours).tolist()):
            seen_A[hour] += comes_A
            comes_A = KEEPS * comes_A + turn
        found.append(Gap(below_Ah, seen_A, float(np.maximum(true_A, 0.0).sum())))
    return gain, found


def _currents(rng: np.random.Generator, hours: int, stored_Ah: float) -> Floats:
    """True current by the hour, from full to full: loads, and six hours a day of net charging."""
    loads = rng.gamma(4.0, 2.0, hours)
    sunny = (np.arange(hours) + rng.integers(24)) % 24 < 6
    sunny[-3:] = True
    into = sunny * rng.uniform(0.3, 1.0, hours)
    drawn_Ah = loads[~sunny].sum() + DRAIN_A * hours + stored_Ah
    return np.where(sunny, into / into.sum() * drawn_Ah / (1 - LOSS), -loads)


def learned(seen: Sequence[Gap]) -> tuple[list[float], list[bool]]:
    """The count's errors [% of capacity] at the end of each gap, and whether its band held."""
    count = ChargeCount(CAPACITY_AH, PRIORS["lifepo4"])
    count.pin(0.0, BELIEVED_SD_AH)
    errors, held = [], []
    for gap in seen:
        for amps in gap.seen_A.tolist():
            count.advance(1.0, amps, max(amps - count.offset_A, 0.0))
        error_Ah = abs(count.below_Ah - gap.below_Ah)
        errors.append(round(100 * error_Ah / CAPACITY_AH, 4))
        held.append(bool(error_Ah <= BAND_90 * count.below_sd_Ah))
        count.close(0.0, BELIEVED_SD_AH)
    return errors, held


@cache
def _through(hours: int, noise: Noise) -> tuple[Floats, Floats]:
    """What so many hours do to (q, offset, what comes and goes): transition and added covariance."""
    if hours == 0:
        return np.eye(3), np.zeros((3, 3))
    hour = np.array([[1.0, 1.0, 1.0], [0.0, 1.0, 0.0], [0.0, 0.0, KEEPS]])
    before, added = _through(hours - 1, noise)
    turn = np.diag([0.0, 0.0, noise.comes_A**2 * (1 - KEEPS**2)])
    return hour @ before, hour @ added @ hour.T + turn


def oracle(gain: float, seen: Sequence[Gap], noise: Noise) -> tuple[list[float], list[bool]]:
    """The same of the exact Bayesian."""
    mean, cov = np.zeros(3), np.diag(np.square([noise.full_Ah, OFFSET_SD_A, noise.comes_A]))
    errors, held = [], []
    for gap in seen:
        hours = gap.seen_A.size
        step, added = _through(hours, noise)
        mean, cov = step @ mean, step @ cov @ step.T + added
        mean[0] += DRAIN_A * hours + LOSS * gap.charged_Ah - gap.seen_A.sum() / gain
        cov[0, 0] += noise.gap_Ah**2
        error_Ah = abs(mean[0] - gap.below_Ah)
        errors.append(round(100 * float(error_Ah) / CAPACITY_AH, 4))
        held.append(bool(error_Ah <= BAND_90 * cov[0, 0] ** 0.5))
        gains = cov[:, 0] / (cov[0, 0] + noise.full_Ah**2)
        mean, cov = mean - gains * mean[0], cov - np.outer(gains, cov[0])
    return errors, held


def plain(seen: Sequence[Gap]) -> list[float]:
    """Errors of the count that begins at 100 % and believes its sensor. [% of capacity]"""
    return [round(100 * abs(-float(gap.seen_A.sum()) - gap.below_Ah) / CAPACITY_AH, 4) for gap in seen]


def run(seed: int) -> Row:
    """Errors at the end of each gap and whether the bands held, in both generators."""
    row: Row = {}
    for name, noise in (("fulls", FULLS), ("gaps", GAPS_MISS)):
        gain, seen = gaps(seed, noise)
        row[f"{name} learned_pct"], row[f"{name} held"] = learned(seen)
        row[f"{name} oracle_pct"], row[f"{name} oracle held"] = oracle(gain, seen, noise)
        row[f"{name} plain_pct"] = plain(seen)
    return row


def figures(rows: Sequence[Row]) -> dict[str, float]:
    """Of the first 200 seeds, and of all."""
    found: dict[str, float] = {}
    for some in (rows[:FEW], rows):
        for name in ("fulls", "gaps"):
            of = f"noise in {name}, {len(some)} seeds: "
            errors = {
                who: np.array([row[f"{name} {who}_pct"] for row in some]) for who in ("learned", "oracle")
            }
            plain_pct = np.array([row[f"{name} plain_pct"] for row in some])
            found[of + "plain count, 95th percentile, % of capacity"] = float(np.percentile(plain_pct, 95))
            for closures, words in ((1, "one closure"), (3, "three closures")):
                for who, errors_pct in errors.items():
                    figure = float(np.percentile(errors_pct[:, closures], 95))
                    found[f"{of}{who}, after {words}, 95th percentile"] = figure
                median = float(np.median(errors["learned"][:, closures]))
                found[f"{of}learned, after {words}, median"] = median
            for who in ("held", "oracle held"):
                held = np.array([row[f"{name} {who}"] for row in some])[:, 1:]
                found[f"{of}90 % band {who}"] = float(held.mean())
    return found


def misses(found: Mapping[str, float]) -> list[str]:
    """The bars, with 200 seeds and the noise in the fulls; the other way no worse than the oracle allows."""
    bars = {
        "noise in fulls, 200 seeds: plain count, 95th percentile, % of capacity": (10.0, 15.0),
        "noise in fulls, 200 seeds: learned, after one closure, 95th percentile": (0.0, 2.0),
        "noise in fulls, 200 seeds: learned, after three closures, 95th percentile": (0.0, 1.3),
    }
    for name in found:
        if name.endswith("90 % band held"):
            bars[name] = (0.85, 0.97)
        if "1000 seeds: learned" in name and name.endswith("95th percentile"):
            bars[name] = (0.0, 1.1 * found[name.replace("learned", "oracle")])
    return outside(found, bars)


CASES = [
    Case(
        name="closure",
        claim="400 Ah, gaps of 2 to 10 days, offset 150 mA (one sigma): the count's error at the next full",
        code=(*(f"monitor/estimation/{name}.py" for name in ESTIMATOR), "tests/proof/closure.py"),
        seeds=range(1000),
        run=run,
        figures=figures,
        misses=misses,
        slice=(0, 1, 57, 199),
    )
]
