"""What two instruments' hours say of them: by how much they disagree, how, and which one errs."""

from typing import Any, NamedTuple

from monitor.estimation.bands import BAND_90
from monitor.estimation.pairs import Line, Pairs

OFFSET_A, GAIN = 0.050, 0.015
"""Two sensors of one current may differ by this much. Common practice."""
NEAR = 0.8
"""Below this share of it they agree again."""
HELD_H = 48
FEW_H = 12
ALIKE = 0.5
"""Squared correlation below which they do not measure the same current."""
LIVELY_A = 1.0
KNOWN_SD_A = 0.06
"""An offset that full charges have taught: before the first it is 0.15 A."""
SURE_SDS = 2.0
MATTERS_A = 0.025


class Verdict(NamedTuple):
    """The id of the reason and the figures in it; `holds` and `clears` as in a finding."""

    id: str
    holds: bool | None
    clears: bool | None
    facts: dict[str, Any]


class Disagreement:
    """One further instrument against the one that counts."""

    def __init__(self) -> None:
        self.beyond_h = 0
        """Hours in a row in which the difference was surely too large."""
        self.line: Line | None = None

    def hour(self, pairs: Pairs) -> None:
        """Another hour is complete."""
        self.line = pairs.line() if pairs.hours >= FEW_H else None
        if self.line is None:
            return
        if _beyond(self.line):
            self.beyond_h += 1
        elif _within(self.line):
            self.beyond_h = 0

    def verdict(self, pairs: Pairs, offset_A: float | None, offset_sd_A: float | None) -> Verdict:
        """`offset_A`: what full charges have taught of the first one's offset, with its deviation."""
        line = self.line
        if line is None:
            return Verdict("alert: instruments not compared", None, None, {})
        facts = {
            "offset_mA": 1000 * line.offset,
            "apart_mA": 1000 * abs(line.offset),
            "gain_pct": 100 * (line.gain - 1) if line.gain == line.gain else None,
            "hours": pairs.hours,
        }
        if _lively(pairs) and line.alike < ALIKE:
            return Verdict("alert: instruments are strangers", True, False, facts)
        if line.gain < 0:
            return Verdict("alert: instruments count opposite ways", True, False, facts)
        holds, clears = self.beyond_h >= HELD_H, _within(line)
        if not _offset_beyond(line) and _gain_beyond(line):
            return Verdict("alert: instruments differ in gain", holds, clears, facts)
        id = "alert: instruments disagree"
        if offset_A is not None and offset_sd_A is not None and offset_sd_A < KNOWN_SD_A:
            other_A, other_sd_A = line.offset + offset_A, (line.offset_sd**2 + offset_sd_A**2) ** 0.5
            first, other = _errs(offset_A, offset_sd_A), _errs(other_A, other_sd_A)
            facts |= {"first_mA": 1000 * offset_A, "other_mA": 1000 * other_A}
            id = _WHICH[first, other]
        if pairs.shift_A is not None and id == "alert: instruments disagree":
            facts["shift_mA"] = 1000 * pairs.shift_A
            id = "alert: an instrument has shifted"
        return Verdict(id, holds, clears, facts)


_WHICH = {
    (True, False): "alert: first instrument errs",
    (False, True): "alert: second instrument errs",
    (True, True): "alert: both instruments err",
    (False, False): "alert: instruments disagree",
}


def _errs(error_A: float, sd_A: float) -> bool:
    return abs(error_A) > max(SURE_SDS * sd_A, MATTERS_A)


def _offset_beyond(line: Line) -> bool:
    return abs(line.offset) - BAND_90 * line.offset_sd > OFFSET_A


def _gain_beyond(line: Line) -> bool:
    """A gain that is not known (nan) is not beyond anything."""
    return abs(line.gain - 1) - BAND_90 * line.gain_sd > GAIN


def _beyond(line: Line) -> bool:
    return _offset_beyond(line) or _gain_beyond(line)


def _within(line: Line) -> bool:
    return abs(line.offset) < NEAR * OFFSET_A and not abs(line.gain - 1) >= NEAR * GAIN


def _lively(pairs: Pairs) -> bool:
    """Enough current has flowed, by both, to tell whether it is the same."""
    return min(pairs.spread_A()) > LIVELY_A
