"""Whether the litres of tank, pump and crew agree: a wrong table or flow setting is said, never a leak."""

from collections.abc import Sequence
from typing import NamedTuple

from monitor.estimation.sounding import Sounding, Table
from monitor.estimation.teaching import Piece

APART, TOGETHER = 1.25, 1.15
"""A factor between them past the first is no tolerance of a pump (a tenth) and a label (a twentieth) any
more; below the second they agree."""
LEAST_SHARE = 0.6
"""So much of the capacity must have been compared,"""
LEAST_PIECES = 6
SPREAD_OVER = 0.5
"""over so much of the sender's range: nearly all of it where the table is a guess."""
SPREAD_OVER_GUESS = 0.75
LEAST_SAID = 2


class Sum(NamedTuple):
    """What the comparison comes to."""

    ratio: float
    """Pumped, over what the tank fell by its table."""
    pieces: int
    pumped_L: float
    fallen_L: float
    said_ratio: float | None
    """Said by the crew, over what the tank rose by its table; None where too little was said."""


def add_up(pieces: Sequence[Piece], table: Table, *, guessed: bool) -> Sum | None:
    """Compare; None while too little is known."""
    sounding = Sounding(table)
    capacity_L, span_pct = table[-1][1], table[-1][0] - table[0][0]
    pumped = [p for p in pieces if not p.said]
    fallen_L = sum(_between_L(sounding, p) for p in pumped)
    spread = max((p.high_pct for p in pumped), default=0.0) - min((p.low_pct for p in pumped), default=0.0)
    enough = len(pumped) >= LEAST_PIECES and fallen_L > 0 and capacity_L > 0
    if not enough or spread < (SPREAD_OVER_GUESS if guessed else SPREAD_OVER) * span_pct:
        return None
    pumped_L = sum(p.litres for p in pumped)
    if max(pumped_L, fallen_L) < LEAST_SHARE * capacity_L:
        return None
    said = [p for p in pieces if p.said]
    rise_L = sum(_between_L(sounding, p) for p in said)
    enough_said = len(said) >= LEAST_SAID and rise_L > 0
    said_ratio = sum(p.litres for p in said) / rise_L if enough_said else None
    return Sum(pumped_L / fallen_L, len(pumped), pumped_L, fallen_L, said_ratio)


def culprit(found: Sum) -> str:
    """ "table" or "flow" where the crew's litres tell, else "falls more" or "falls less"."""
    if found.said_ratio is not None:
        agrees = 1 / TOGETHER < found.said_ratio < TOGETHER
        return "flow" if agrees else "table"
    return "falls more" if found.ratio < 1 else "falls less"


def apart(ratio: float) -> bool:
    return not 1 / APART < ratio < APART


def together(ratio: float) -> bool:
    return 1 / TOGETHER < ratio < TOGETHER


def _between_L(sounding: Sounding, piece: Piece) -> float:
    return sounding.litres(piece.high_pct) - sounding.litres(piece.low_pct)
