"""What a guided test says where it stands: the id of the sentence, and the numbers that go into it."""

from typing import Any

from monitor.clock import HOUR_S
from monitor.estimation.guided_state import GuidedTest
from monitor.estimation.guided_steps import BACK, OVER, SHUT, STEPS, TIGHT, WAIT, cleared
from monitor.records import Guided, Reason
from monitor.settings import Pump


def told(test: GuidedTest, pump: Pump, heater: bool, drawdown_L: float, at_s: float) -> Guided:
    """As the page shows it. `heater`: there is one, and it was switched off."""
    answers = tuple((id, Reason(f"guided answer: {id}")) for id in STEPS[test.step].answers)
    say = Reason(f"guided: {_id(test, pump, heater)}", _facts(test, pump, drawdown_L, at_s))
    wait_s = test.wait_s if test.step == WAIT else None
    return Guided(test.pump, test.step, say, answers, test.since_s, wait_s, done=test.step == OVER)


def _id(test: GuidedTest, pump: Pump, heater: bool) -> str:
    place = next((c.place for c in pump.cocks if c.name == test.cock), "all taps")
    place += " once more" if test.confirms else ""
    noted = f", {test.note}" if test.note else ""
    return {
        SHUT: f"shut {place}, {test.note or test.last}",
        WAIT: f"wait {place}{noted}",
        BACK: f"found {test.outcome}, {put_back(test.shut, heater)}",
        OVER: f"found {test.outcome}",
    }.get(test.step, test.step + noted)


def put_back(cocks: bool, heater: bool) -> str:
    """What is to be put back as it was."""
    return "open " + " and ".join(what for what, was in (("cocks", cocks), ("heater", heater)) if was)


def _facts(test: GuidedTest, pump: Pump, drawdown_L: float, at_s: float) -> dict[str, Any]:
    own = next((part.cock for part in test.suspects if part.cock), "")
    waited_s = 0.0 if test.since_s is None else max(0.0, at_s - test.since_s)
    bound = drawdown_L / test.waited_s * HOUR_S if test.outcome == TIGHT else None
    q = test.L_per_h
    return {
        "pump": pump.name, "cock": test.cock, "before": test.before, "behind": own or test.cock,
        "cleared": cleared(pump, test.suspects), "wait_s": test.wait_s,
        "left_s": max(0.0, test.wait_s - waited_s), "waited_s": test.waited_s, "starts": test.starts,
        "shows_L_per_h": drawdown_L / test.wait_s * HOUR_S, "bound_L_per_h": bound, "leak_L_per_h": q,
        "leak_L_per_day": None if q is None else 24 * q,
    }  # fmt: skip
