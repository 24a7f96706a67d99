"""Runs that are of one load, by their watts alone: crowds along one axis."""

import numpy as np
import numpy.typing as npt

from monitor.estimation.loads.trace import Floats

Ints = npt.NDArray[np.int64]

ABOUT_W = 32.0
"""Steps scatter by 0.8 W and by 2.5 %: along ln (W + 32) alike everywhere."""
BROAD = 0.012
WITHIN = 0.04
"""How far from its crowd's middle a run may lie: some 8 % at 40 W."""
VALLEY = 0.7
"""Two crowds are two where so much lower a valley lies between them."""


def place(watts: Floats) -> Floats:
    """Where watts lie along an axis on which steps scatter alike."""
    found: Floats = np.log(np.maximum(watts, 0.0) + ABOUT_W)
    return found


def crowds(watts: Floats) -> Ints:
    """For each run the number of its crowd, by falling size; -1 for one that stands alone."""
    if not watts.size:
        return np.empty(0, np.int64)
    at = place(watts)
    axis = np.arange(at.min() - 3 * BROAD, at.max() + 3 * BROAD, BROAD / 3)
    height = np.exp(-0.5 * ((axis[:, None] - at[None, :]) / BROAD) ** 2).sum(axis=1)
    peaks = _peaks(height)
    nearest = np.abs(at[:, None] - axis[peaks][None, :])
    of = nearest.argmin(axis=1)
    sizes = np.bincount(of[nearest.min(axis=1) <= WITHIN], minlength=len(peaks))
    rank = np.empty(len(peaks), np.int64)
    rank[np.argsort(-sizes, kind="stable")] = np.arange(len(peaks))
    return np.where(nearest.min(axis=1) <= WITHIN, rank[of], -1)


def _peaks(height: Floats) -> list[int]:
    """Tops that a real valley divides from a higher one."""
    inner = height[1:-1]
    tops = (np.flatnonzero((inner >= height[:-2]) & (inner > height[2:])) + 1).tolist()
    kept: list[int] = []
    for top in tops:
        if kept and height[kept[-1] : top + 1].min() > VALLEY * min(height[kept[-1]], height[top]):
            if height[top] > height[kept[-1]]:
                kept[-1] = top
            continue
        kept.append(top)
    return kept
