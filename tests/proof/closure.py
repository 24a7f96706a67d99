"""Whether full charges teach the sensor's offset: a bank of 400 Ah, filled every 2 to 10 days.

The bank is counted in steps of an hour by a sensor with a fixed offset (one sigma 150 mA) and 10 mA
drawn past it. What a gap misses for other reasons (the full itself, a sensor that wanders) is 0.5 %
of the capacity, one sigma. The error is that of the count just before each full charge is seen. The
plain count is the usual one: it begins at 100 % at each full and believes its sensor. The generator
has the structure of the model, so this shows that the offset can be learned from such gaps, not how
well a real bank obeys.
"""

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from monitor.estimation.charge import BAND_90
from monitor.estimation.counting import PRIORS, ChargeCount
from tests.proof.harness import Case, Row, outside

CAPACITY_AH = 400.0
GAPS = 6
FULL_SD_AH = 0.005 * CAPACITY_AH
"""What the estimator believes of each full."""
GAP_SD_AH = 0.005 * CAPACITY_AH
DRAIN_A = 0.010
LOSS = 0.004


def run(seed: int) -> Row:
    """Errors [% of capacity] at the end of each gap, learned and plain, and whether the band held."""
    rng = np.random.default_rng(seed)
    offset_A = rng.normal(0.0, 0.15)
    count = ChargeCount(CAPACITY_AH, PRIORS["lifepo4"])
    count.pin(0.0, FULL_SD_AH)
    learned, plain, held = [], [], []
    for _ in range(GAPS):
        hours = int(rng.integers(48, 241))
        true_A = _currents(rng, hours)
        seen_A = true_A + offset_A + rng.normal(0.0, GAP_SD_AH / np.sqrt(hours), hours)
        for amps in seen_A.tolist():
            count.advance(1.0, amps, max(amps - count.offset_A, 0.0))
        learned.append(round(100 * abs(count.below_Ah) / CAPACITY_AH, 4))
        plain.append(round(100 * abs(float(seen_A.sum())) / CAPACITY_AH, 4))
        held.append(bool(abs(count.below_Ah) <= BAND_90 * count.below_sd_Ah))
        count.close(0.0, FULL_SD_AH)
    return {"learned_pct": learned, "plain_pct": plain, "band_held": held}


def _currents(rng: np.random.Generator, hours: int) -> npt.NDArray[np.float64]:
    """True current by the hour, from full to full: loads, and six hours a day of net charging."""
    loads = rng.gamma(4.0, 2.0, hours)
    sunny = (np.arange(hours) + rng.integers(24)) % 24 < 6
    sunny[-3:] = True
    into = sunny * rng.uniform(0.3, 1.0, hours)
    drawn_Ah = loads[~sunny].sum() + DRAIN_A * hours
    return np.where(sunny, into / into.sum() * drawn_Ah / (1 - LOSS), -loads)


def figures(rows: Sequence[Row]) -> dict[str, float]:
    learned = np.array([row["learned_pct"] for row in rows])
    plain = np.array([row["plain_pct"] for row in rows])
    held = np.array([row["band_held"] for row in rows])
    return {
        "gaps counted": float(learned.size),
        "plain count, 95th percentile, % of capacity": float(np.percentile(plain, 95)),
        "after one closure, median": float(np.median(learned[:, 1])),
        "after one closure, 95th percentile": float(np.percentile(learned[:, 1], 95)),
        "after three closures, median": float(np.median(learned[:, 3])),
        "after three closures, 95th percentile": float(np.percentile(learned[:, 3], 95)),
        "90 % band held, after one closure and more": float(held[:, 1:].mean()),
    }


def misses(found: Mapping[str, float]) -> list[str]:
    bars = {
        "after one closure, 95th percentile": (0.0, 2.0),
        "after three closures, 95th percentile": (0.0, 1.3),
        "90 % band held, after one closure and more": (0.90, 1.0),
    }
    return outside(found, bars)


CASES = [
    Case(
        name="closure",
        claim="400 Ah, gaps of 2 to 10 days, offset 150 mA (one sigma): the count's error at the next full",
        code=("monitor/estimation/counting.py", "tests/proof/closure.py"),
        seeds=range(600),
        run=run,
        figures=figures,
        misses=misses,
        slice=(0, 1, 57, 199),
    )
]
