"""What is told of a bank's charge, and why it is what it is: 90 % bands and reasons."""

from monitor.estimation.bands import BAND_90
from monitor.estimation.counting import ChargeCount, Remaining
from monitor.estimation.low_end import LowEnd
from monitor.records import Estimate, Reason
from monitor.settings import Bank

_LONG_S = 14 * 86400.0


def estimates(
    bank: Bank, at_s: float, left: Remaining, why: Reason, count: ChargeCount, pairs: int
) -> list[Estimate]:
    """charge_pct and left_Wh. Nothing is left above what the bank may hold at most."""
    volts, doubt_Ah = bank.nominal_V, BAND_90 * count.capacity_sd_Ah
    most_Wh = (count.capacity_Ah + doubt_Ah) * volts
    capacity = {
        "capacity_Ah": count.capacity_Ah,
        "low_Ah": count.capacity_Ah - doubt_Ah,
        "high_Ah": count.capacity_Ah + doubt_Ah,
        "times": pairs,
    }
    holds = Reason("charge of learned capacity" if pairs else "charge of labelled capacity", capacity)
    return [
        _banded("charge_pct", bank.name, at_s, 100 * left.share, 100 * left.share_sd, 100.0, why),
        _banded("left_Wh", bank.name, at_s, left.Ah * volts, left.sd_Ah * volts, most_Wh, holds),
    ]


def unknown(bank: Bank, at_s: float, counted: bool, lost: bool) -> list[Estimate]:
    """The same where nothing is known."""
    if counted:
        reason = Reason("charge lost in a gap" if lost else "charge unknown until full")
    else:
        reason = Reason("charge not told of this bank", {"bank": bank.name})
    return [Estimate(what, bank.name, at_s, None, None, None, reason) for what in ("charge_pct", "left_Wh")]


def why(since_full_s: float, silent_s: float, changed: bool, count: ChargeCount, low_end: LowEnd) -> Reason:
    """What a known charge rests on; `changed` stands in the facts whatever is told."""
    facts = {
        "since_s": since_full_s,
        "offset_A": count.offset_A,
        "offset_sd_A": count.offset_sd_A,
        "changed": changed,
    }
    spoken = low_end.spoken
    if silent_s > 0:
        return Reason("charge not heard", {**facts, "silent_s": silent_s})
    if changed:
        return Reason("charge count doubted", facts)
    if spoken is not None and spoken.ago_s < _LONG_S:
        return Reason(spoken.reason, {**facts, "ago_s": spoken.ago_s, "seen_pct": spoken.pct})
    return Reason("charge long not full" if since_full_s > _LONG_S else "charge counted", facts)


def _banded(
    name: str, subject: str, at_s: float, value: float, sd: float, most: float, reason: Reason
) -> Estimate:
    low, high = max(0.0, value - BAND_90 * sd), min(most, value + BAND_90 * sd)
    return Estimate(name, subject, at_s, value, low, high, reason)
