"""The watch over the cells as a whole: cells apart and why, limits, words, restarts.

What tells a cell of less capacity from one that is out of balance is arithmetic of a series string: all
cells carry the same charge, so the smallest comes first at both ends. Worked in the tests.
"""

import json
import math
import re
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

import monitor.estimation
from monitor.alerts.rules import RULES
from monitor.channels import QUANTITIES
from monitor.estimation.cells import CellWatch
from monitor.records import Finding
from monitor.words.cells import SENTENCES
from monitor.words.say import say
from monitor.words.units import UNKNOWN, Dress
from tests.estimation.energy.cell_string import CellString, Listener, settings

OURS = {"cut coming", "cut off", "cold charging", "hot cells", "cells apart", "charge above limit"}


def cycle(listener: Listener, cells: CellString) -> None:
    """Up until the highest cell is at 3.62 V, a small tail, then down until the lowest is at 2.8 V."""
    while max(cells.volts()) < 3.62:
        listener.live(cells, 15.0)
    for _ in range(3):
        listener.live(cells, 0.5)
    while min(cells.volts()) > 2.8:
        listener.live(cells, -25.0)
    listener.live(cells, -2.0)


def apart(charges_pct: Sequence[float], parts: Sequence[float]) -> Finding:
    listener = Listener()
    cycle(listener, CellString(list(charges_pct), parts=parts))
    return listener.finding("cells apart")


def test_a_cell_of_less_capacity_is_the_highest_full_and_the_lowest_empty() -> None:
    # Cell 3 holds 80 %: at a common 50 % it is full after 40 % of the bank, the others after 50 %, and
    # empty likewise.
    found = apart([50.0] * 4, [1.0, 1.0, 0.8, 1.0])

    assert found.holds is True
    assert found.reason.id == "alert: cell of less capacity"
    assert found.reason.facts["cell"] == "cell 3"


def test_a_cell_out_of_balance_stands_on_the_same_side_at_both_ends() -> None:
    # Cell 2 has the same capacity and 10 % less in it all the time: last to be full, first to be empty.
    found = apart([60.0, 50.0, 60.0, 60.0], [1.0] * 4)

    assert found.holds is True
    assert found.reason.id == "alert: cell out of balance"
    assert found.reason.facts["cell"] == "cell 2"


def test_at_one_end_alone_not_enough_is_seen() -> None:
    listener, cells = Listener(), CellString([80.0, 90.0, 80.0, 80.0])
    while max(cells.volts()) < 3.62:
        listener.live(cells, 15.0)
    cells.charges_pct = [pct + 6 for pct in cells.charges_pct]
    listener.live(cells, 0.5)

    found = listener.finding("cells apart")

    assert found.holds is True
    assert found.reason.id == "alert: cells apart at top, not enough seen"
    assert found.reason.facts["high"] == "cell 2"


def test_no_finding_of_cells_apart_says_that_they_stand_together() -> None:
    """Apart at rest alone, full and empty together: seen in this order, the words follow what holds."""
    listener = Listener()
    cycle(listener, CellString([50.0] * 4))
    for _ in range(40):
        volts = {f"house cell {n} voltage": 3.30 for n in (1, 2, 3)}
        listener.hear({**volts, "house cell 4 voltage": 3.345, "house current": 0.0, "house voltage": 13.2})

    found = listener.finding("cells apart")

    assert found.holds is True
    assert found.reason.id == "alert: cells apart at rest alone"


def test_a_resting_bank_that_is_nearly_empty_tells_nothing_at_rest() -> None:
    """The knee parts cells of nearly the same charge: 3.13 and 3.18 V are 8 and 10 % (laboratory LFP)."""
    listener = Listener()
    for _ in range(40):
        volts = {f"house cell {n} voltage": 3.18 for n in (1, 2, 3)}
        listener.hear({**volts, "house cell 4 voltage": 3.13, "house current": 0.0, "house voltage": 12.7})

    assert listener.finding("cells apart").holds is None


def test_cells_that_stand_together_are_well() -> None:
    found = apart([50.0] * 4, [1.0] * 4)

    assert (found.holds, found.clears) == (False, True)
    assert found.reason.id == "alert: cells together"


def test_the_plateau_tells_nothing() -> None:
    """Cells that differ by 20 % stand 10 mV apart there, under load."""
    listener, cells = Listener(), CellString([40.0, 60.0, 50.0, 50.0])
    for _ in range(20):
        listener.live(cells, -20.0)

    assert listener.finding("cells apart").holds is None
    assert listener.estimate("cell_spread_mV").value == pytest.approx(
        1000 * (max(cells.volts()) - min(cells.volts())), abs=2.0
    )


def test_the_spread_names_its_cells_as_the_bms_does_where_it_tells_only_the_ends() -> None:
    listener = Listener()

    listener.hear({"house cell high voltage": 3.40, "house cell low voltage": 3.35, "house current": 5.0})

    spread = listener.estimate("cell_spread_mV")
    assert spread.value == pytest.approx(50.0)
    assert spread.reason.facts["high"] == "the highest cell"


# ---- limits


def test_a_current_somewhat_above_its_limit_is_told_when_it_lasts() -> None:
    """Chargers take minutes to follow a limit."""
    listener = Listener()
    told = []
    for _ in range(6):
        listener.hear({"house current": 60.0, "house charge limit": 50.0})
        told.append(listener.finding("charge above limit").holds)

    assert told == [False, False, False, False, True, True]


def test_a_current_far_above_its_limit_is_told_at_once() -> None:
    listener = Listener()

    listener.hear({"house current": 60.0, "house charge limit": 20.0})

    assert listener.finding("charge above limit").holds is True


def test_what_the_bms_says_counts_before_the_settings() -> None:
    listener = Listener(CellWatch(settings(charge_limit_A=30.0)))
    listener.hear({"house current": 60.0, "house charge limit": 100.0})
    assert listener.finding("charge above limit").holds is False

    for _ in range(6):
        listener.hear({"house current": 60.0})

    assert listener.finding("charge above limit").holds is True


def test_without_a_limit_it_is_unknown() -> None:
    listener = Listener()

    listener.hear({"house current": 60.0})

    assert listener.finding("charge above limit").holds is None


def test_a_cell_above_its_limit_is_told() -> None:
    listener = Listener()
    volts = {f"house cell {n} voltage": 3.45 for n in (1, 2, 3)}

    listener.hear({**volts, "house cell 4 voltage": 3.66, "house current": 20.0, "house voltage": 14.0})

    found = listener.finding("charge above limit")
    assert (found.holds, found.reason.id) == (True, "alert: cell above limit")


# ---- the whole


def test_every_rule_is_answered_for_before_the_first_minute_and_after_nonsense() -> None:
    listener = Listener()
    for _ in range(2):
        found = list(listener.watch.findings())
        assert {f.rule for f in found} == OURS
        assert len(found) == len(OURS)
        assert all(f.rule in RULES for f in found)
        listener.hear({f"house cell {n} voltage": float("nan") for n in range(1, 5)} | {"house current": 1e9})


def test_nothing_that_instruments_can_say_raises() -> None:
    """Every channel at random: there or not, within its plausible bounds or "not available"."""
    rng = np.random.default_rng(11)
    names = ["current", "voltage", "charge limit", "discharge limit", "pre-alarm", "contactor closed"]
    names += ["temperature", "cell high voltage", "cell low voltage", "cell high temperature"]
    names += [f"cell {n} {what}" for n in range(1, 5) for what in ("voltage", "temperature")]
    listener = Listener()
    for _ in range(400):
        said = {}
        for name in names:
            bounds = QUANTITIES[name]
            if rng.random() < 0.8:
                value = float(rng.uniform(bounds.lowest, bounds.highest))
                said[f"house {name}"] = value if rng.random() < 0.9 else float("nan")
        listener.hear(said)
        assert {f.rule for f in listener.watch.findings()} == OURS
        for estimate in listener.watch.estimates():
            known = [v for v in (estimate.low, estimate.value, estimate.high) if v is not None]
            assert known == sorted(known), "low, likely, high"
            assert all(math.isfinite(v) for v in known)


def test_before_the_first_minute_nothing_is_known() -> None:
    watch = CellWatch(settings())

    assert all(f.holds is None and f.clears is None for f in watch.findings())
    assert all(e.value is None for e in watch.estimates())


def test_lead_has_no_cells_to_watch() -> None:
    assert list(CellWatch(settings(chemistry="lead")).findings()) == []


def test_the_state_is_small_and_comes_back_as_it_went() -> None:
    listener = Listener()
    cycle(listener, CellString([50.0] * 4, parts=[1.0, 1.0, 0.8, 1.0]))
    kept = json.dumps(listener.watch.state())
    again = CellWatch(settings())

    again.restore(json.loads(kept))

    assert len(kept) < 1000
    assert json.dumps(again.state()) == kept
    apart = next(f for f in again.findings() if f.rule == "cells apart")
    assert apart.reason.id == "alert: cell of less capacity"


# ---- words

MODULES = ("cells", "countdown", "cut", "full_cell", "empty_cell", "cold", "spread")


def test_every_reason_has_a_sentence() -> None:
    folder = Path(monitor.estimation.__file__).parent
    text = "".join((folder / f"{name}.py").read_text("utf-8") for name in MODULES)
    given = set(re.findall(r'"((?:cut|spread|alert): [a-z, -]+)"', text))
    given |= {f"cut: {side} limit" for side in ("charge", "discharge")}
    given |= {f"alert: cut off, {side}" for side in ("charge", "discharge")}
    given |= {f"alert: cells apart at {at}, not enough seen" for at in ("top", "bottom", "rest")}
    cuts = {id for id in given if id.startswith("cut: ")}
    never_told = {"cut: unknown", "cut: none in sight", "cut: charger holds", "cut: charge left"}
    for id in cuts - never_told:
        given |= {f"alert: {id}{at}{by}" for at in ("", ", now") for by in ("", ", engine")}
    given -= {"alert: cut: open", "alert: cut: open, engine"}  # It is always now.
    rules = {f"{rule}: {part}" for rule in OURS for part in ("name", "do", "otherwise")}

    assert given | rules == set(SENTENCES)


def test_what_a_runaway_says_is_complete_and_plain() -> None:
    listener, cells = Listener(), CellString([82.0, 86.0, 82.0, 82.0])
    while not listener.finding("cut coming").holds:
        listener.live(cells, 60.0, alternator=True)

    told = say(listener.finding("cut coming").reason, Dress())

    assert UNKNOWN not in told
    assert "cell 2" in told
    assert "The alternator gives 60.0" in told


def test_no_advice_ever_harms() -> None:
    """Never: open a battery switch, reset or bridge a BMS, stop the engine of a boat under way."""
    for rule in ("cut coming", "cut off"):
        text = SENTENCES[f"{rule}: do"]
        assert "never stop the engine of a boat under way" in text
        for sentence in re.split(r"[.;]", text):
            for harm in ("battery switch", "bridge", "reset a BMS"):
                assert harm not in sentence or "ever" in sentence


def test_the_advice_of_every_rule_takes_the_alternators_load_off_first() -> None:
    text = SENTENCES["cut coming: do"]
    steps = [text.index(step) for step in ("regulator or field", "reduce revolutions", "keep steerage")]

    assert all(a < b for a, b in pairwise(steps))
