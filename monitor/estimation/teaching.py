"""A tank that teaches its own table: litres that were measured elsewhere, against its sender's readings.

What the pump moves between two settled readings, and what the crew says was poured in, tell how many
litres lie between them. From many such pieces the table is fitted (least squares about the given table,
one number for the pump's flow beside it) and made to rise (pooled adjacent violators). It counts only
while it foretells pieces that it has not seen better than the given table does.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.estimation.bands import BAND_90
from monitor.estimation.sounding import Sounding, Table

Floats = npt.NDArray[np.float64]

BINS = 20
KEPT = 60
"""So many pieces are remembered: two or three tankfuls."""
PUMP_SD, LABEL_SD = 0.06, 0.03
"""The pump's flow is known to a tenth, the capacity on the label to 5 % (90 % bands)."""
PIECE_SD, SAID_SD = 0.03, 0.03
"""How pieces scatter among themselves, and how well litres from a meter or from cans are known."""
GIVEN_SD, GUESSED_SD = 0.25, 0.8
"""How far the slope of a given table, and of a straight line in its stead, may be off (sd)."""
ALIKE_BINS = 4.0
"""Over how many bins such an error is alike."""
LEAST_PIECES = 12
FOLDS = 4
PROVED_EVERY = 4
"""After so many new pieces it is proved again."""
BETTER, NO_WORSE = 0.6, 1.0
"""The error of what was foretold, over the given table's: below the first it is used, until above the
second."""


class Piece(NamedTuple):
    """So many litres lie between two readings; `said` by the crew, else pumped."""

    low_pct: float
    high_pct: float
    litres: float
    said: bool


@dataclass(frozen=True, slots=True)
class Taught:
    """A fitted table: litres with their standard error at each reading, and the pump's true flow over
    the one it is told by."""

    readings: Floats
    litres: Floats
    sd_L: Floats
    flow: float
    flow_sd: float

    def table(self) -> Table:
        return [
            (round(float(r), 2), round(float(v), 2)) for r, v in zip(self.readings, self.litres, strict=True)
        ]


class Teaching:
    """Pieces of one tank, and the table they make."""

    def __init__(self, given: Table, guessed: bool) -> None:
        """`guessed`: nothing is known of the shape, the given table is a straight line for want of one."""
        self._given = Sounding(given)
        self._slope_sd = GUESSED_SD if guessed else GIVEN_SD
        self._readings = np.linspace(given[0][0], given[-1][0], BINS + 1)
        self._d0 = np.diff(np.array([self._given.litres(float(r)) for r in self._readings]))
        self._v0 = given[0][1]
        self._before = self._known_before()
        self.pieces: list[Piece] = []
        self.taught: Taught | None = None
        self._unproved = 0
        self.used = False
        """Whether the taught table has proved better than the given one."""

    def learn(self, piece: Piece) -> None:
        """Take a piece and fit anew. A piece of no litres or no height says nothing."""
        if not (piece.high_pct > piece.low_pct and piece.litres > 0):
            return
        self.pieces = [*self.pieces, piece][-KEPT:]
        self._unproved += 1
        self._fit_all()
        if self.taught is not None and self._unproved >= PROVED_EVERY:
            self._prove()

    def _fit_all(self) -> None:
        enough = len(self.pieces) >= LEAST_PIECES
        self.taught = self._fit(self.pieces) if enough else None
        self.used = self.used and enough

    def _prove(self) -> None:
        self._unproved = 0
        taught, given = self._foretold()
        self.used = taught <= (NO_WORSE if self.used else BETTER) * given

    # ---- the fit

    def _known_before(self) -> Floats:
        """Covariance of the bins' litres and of the pump's flow, before anything was learned."""
        at = np.arange(BINS)
        alike = np.exp(-np.abs(at[:, None] - at[None, :]) / ALIKE_BINS)
        before = np.zeros((BINS + 1, BINS + 1))
        before[:BINS, :BINS] = (self._slope_sd * float(self._d0.mean())) ** 2 * alike
        before[BINS, BINS] = PUMP_SD**2
        return before

    def _rows(self, pieces: Sequence[Piece]) -> Floats:
        """Which share of every bin lies within each piece."""
        low = np.array([p.low_pct for p in pieces])[:, None]
        high = np.array([p.high_pct for p in pieces])[:, None]
        begin, end = self._readings[:-1], self._readings[1:]
        rows: Floats = np.clip((np.minimum(high, end) - np.maximum(low, begin)) / (end - begin), 0.0, 1.0)
        return rows

    def _fit(self, pieces: Sequence[Piece]) -> Taught:
        """Least squares of the litres of every bin and the pump's flow, about what was known before."""
        before = self._before
        rows, litres, said = self._rows(pieces), *_told(pieces)
        design = np.hstack([rows, np.where(said, 0.0, -litres)[:, None]])
        seen = np.where(said, litres, 0.0)
        sd = self._sd_L(litres, said)
        # The label: all bins together hold what the tank holds.
        design = np.vstack([design, np.append(np.ones(BINS), 0.0)])
        seen = np.append(seen, self._d0.sum())
        sd = np.append(sd, LABEL_SD * self._d0.sum())
        prior = np.append(self._d0, 1.0)
        half = before @ design.T
        gain = np.linalg.solve(design @ half + np.diag(sd**2), half.T).T
        x = prior + gain @ (seen - design @ prior)
        spread = before - gain @ design @ before
        sums = np.cumsum(np.cumsum(spread[:BINS, :BINS], axis=0), axis=1)
        sd_L = np.sqrt(np.maximum(0.0, np.diag(sums)))
        volumes = pooled(np.append(0.0, np.cumsum(x[:BINS])))
        return Taught(
            self._readings,
            self._v0 + np.maximum(volumes, 0.0),
            np.append(0.0, sd_L),
            float(x[BINS]),
            float(np.sqrt(max(0.0, spread[BINS, BINS]))),
        )

    def _sd_L(self, litres: Floats, said: npt.NDArray[np.bool_]) -> Floats:
        least_L = 0.002 * float(self._d0.sum())
        found: Floats = np.hypot(least_L, np.where(said, SAID_SD, PIECE_SD) * litres)
        return found

    # ---- whether it is better

    def _foretold(self) -> tuple[float, float]:
        """Sums of squared errors, in standard errors, of pieces left out in turn: taught and given.

        The given table may have the pump's flow adapted to it, too: what differs by a factor alone is
        the pump's doing and no reason to bend a table.
        """
        taught = given = 0.0
        for fold in range(FOLDS):
            out, kept = self.pieces[fold::FOLDS], [p for n, p in enumerate(self.pieces) if n % FOLDS != fold]
            fit, flow = self._fit(kept), self._flow_of_given(kept)
            rows, litres, said = self._rows(out), *_told(out)
            sd = self._sd_L(litres, said)
            by_taught = rows @ np.diff(fit.litres) / np.where(said, 1.0, fit.flow)
            by_given = rows @ self._d0 / np.where(said, 1.0, flow)
            taught += float((((by_taught - litres) / sd) ** 2).sum())
            given += float((((by_given - litres) / sd) ** 2).sum())
        return taught, given

    def _flow_of_given(self, pieces: Sequence[Piece]) -> float:
        pumped = [p for p in pieces if not p.said]
        told_L = sum(p.litres for p in pumped)
        return float((self._rows(pumped) @ self._d0).sum()) / told_L if told_L else 1.0

    # ---- what it comes to

    def table(self) -> Table:
        """The table to go by."""
        return self.taught.table() if self.taught is not None and self.used else self._given.table

    def sd_L(self, reading_pct: float) -> float | None:
        """Standard error of the taught table at a reading, None while the given one is used."""
        if self.taught is None or not self.used:
            return None
        return float(np.interp(reading_pct, self.taught.readings, self.taught.sd_L))

    def drift(self) -> tuple[float, float, float] | None:
        """Where the taught table differs most from the given one: the reading [%], by how much more it
        holds there [L], and half of the 90 % band of that [L]. None before there are enough pieces."""
        if self.taught is None:
            return None
        given = self._v0 + np.append(0.0, np.cumsum(self._d0))
        off = self.taught.litres - given
        n = int(np.abs(off).argmax())
        return float(self._readings[n]), float(off[n]), BAND_90 * float(self.taught.sd_L[n])

    def state(self) -> dict[str, Any]:
        told = [
            [round(p.low_pct, 2), round(p.high_pct, 2), round(p.litres, 2), int(p.said)] for p in self.pieces
        ]
        return {"pieces": told, "used": self.used}

    def restore(self, state: dict[str, Any]) -> None:
        self.pieces = [Piece(low, high, litres, bool(said)) for low, high, litres, said in state["pieces"]]
        self.used = bool(state["used"])
        self._fit_all()


def pooled(values: Sequence[float] | Floats) -> Floats:
    """The nearest rising row, in least squares: pooled adjacent violators.

    Source: Barlow, Bartholomew, Bremner and Brunk, Statistical Inference under Order Restrictions, 1972.
    """
    blocks: list[tuple[float, int]] = []
    for value in values:
        mean, n = float(value), 1
        while blocks and blocks[-1][0] > mean:
            before, m = blocks.pop()
            mean, n = (mean * n + before * m) / (n + m), n + m
        blocks.append((mean, n))
    return np.concatenate([np.full(n, mean) for mean, n in blocks]) if blocks else np.empty(0)


def _told(pieces: Sequence[Piece]) -> tuple[Floats, npt.NDArray[np.bool_]]:
    return np.array([p.litres for p in pieces]), np.array([p.said for p in pieces], dtype=bool)
