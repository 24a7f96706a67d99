"""The energy scenarios: what happens in each, for several seeds, and what the buses say meanwhile."""

from datetime import UTC, datetime
from itertools import pairwise
from typing import Any

import pytest

from monitor.records import Frame
from simulators.voyage import Voyage
from tests.simulators.test_voyage import heard

START_S = datetime(2026, 10, 1, tzinfo=UTC).timestamp()
SEEDS = (1, 2, 3)


def with_bms(name: str, days: float, seed: int) -> tuple[list[dict[str, Any]], list[Frame]]:
    """The truth, and what the BMS says every three seconds."""
    truth: list[dict[str, Any]] = []
    voyage = Voyage(name, seed, START_S, days, 3.0, on_truth=truth.append)
    return truth, [item for item in voyage if isinstance(item, Frame) and not item.extended]


def truth_of(name: str, days: float, seed: int) -> list[dict[str, Any]]:
    return list(Voyage(name, seed, START_S, days).truth())


def utc_s(line: dict[str, Any]) -> float:
    return datetime.fromisoformat(line["time"]).timestamp()


def when(truth: list[dict[str, Any]], event: str) -> list[float]:
    return [utc_s(line) for line in truth if line.get("event") == event]


def lines(truth: list[dict[str, Any]], after_s: float, until_s: float) -> list[dict[str, Any]]:
    return [line for line in truth if "charge_pct" in line and after_s < utc_s(line) <= until_s]


@pytest.mark.parametrize("seed", SEEDS)
def test_the_bms_cuts_while_motoring_and_warns_before(seed: int) -> None:
    """Limits go down and the pre-alarm comes before the contactor opens (ABYC E-13, from secondary
    sources); a high cell is at 3.65 V then (makers' sheets)."""
    truth, frames = with_bms("bms-cut-motoring", 2.6, seed)
    (cut_s,) = when(truth, "cut")
    motoring_s = [utc_s(line) for line in truth if line.get("place") == "motoring"][-1]
    (closes_s,) = when(truth, "contactor closes")
    before = lines(truth, cut_s - 600, cut_s)[-1]
    dark = lines(truth, cut_s, closes_s)
    said = heard(frame for frame in frames if abs(frame.at_s - cut_s) < 1800)
    before_it = [values for at_s, values in said[("Limits", 0)] if at_s < cut_s]
    after_it = [values for at_s, values in said[("Limits", 0)] if at_s > cut_s + 1]
    warned = [at_s for at_s, values in said[("Limits", 0)] if values["PreAlarm"] and at_s < cut_s]
    cells = [values for at_s, values in said[("Cells", 0)] if at_s < cut_s][-1]

    assert 2 * 3600 < cut_s - motoring_s < 8 * 3600
    assert before["bank_A"] > 40
    assert 60 < cut_s - min(warned) < 1800
    assert (before_it[-1]["ChargeLimit"] or 0.0) < 10 < (before_it[0]["ChargeLimit"] or 0.0)
    assert max(v for v in cells.values() if v is not None) == pytest.approx(3.65, abs=0.02)
    assert 20 * 60 < closes_s - cut_s < 3 * 3600
    assert all(line["house_W"] == 0 for line in dark[1:])
    assert dark[-1]["buffer_V"] < 12.8 < before["buffer_V"]
    assert {values["ContactorClosed"] for values in after_it} == {0}


def test_weeks_at_anchor_hold_full_charges_and_nothing_breaks() -> None:
    """Every few days full, as the trade asks of a counted lithium bank; at the top the cells stay within
    100 mV above 3.4 V (an owners' rule of the trade)."""
    truth = truth_of("month-at-anchor", 20, 1)
    fulls = when(truth, "full charge")
    apart = [max(line["cells_V"]) - min(line["cells_V"]) for line in truth if "cells_V" in line]
    tops = [max(line["cells_V"]) for line in truth if "cells_V" in line]

    assert len(fulls) >= 4
    assert max(b - a for a, b in pairwise(fulls)) < 8 * 86400
    assert not when(truth, "cut")
    assert max(apart) < 0.100
    assert max(tops) < 3.60
    assert min(line["charge_pct"] for line in truth if "charge_pct" in line) > 20
