"""What follows from a wait of a guided test that is over."""

from monitor.estimation.guided_state import GuidedTest
from monitor.estimation.guided_steps import (
    AGAIN,
    LEAKS,
    LOOK,
    SHUT,
    TIGHT,
    behind,
    next_cock,
    outcome,
    usable,
)
from monitor.settings import Pump


def concluded(test: GuidedTest, pump: Pump, at_s: float) -> str | None:
    """Take the test on to its next step, or tell what is found.

    With a cock shut, a start clears what is behind it, and stillness all the rest. Where the pump has
    started only once, before any cock was shut, it may have been a draw: then it waits once more with
    everything open.
    """
    test.seen = test.seen or (test.first and test.starts > 1)
    started = test.starts > 0
    test.waited_s = at_s - (at_s if test.since_s is None else test.since_s)
    shut = next((c for c in pump.cocks if c.name == test.cock), None)
    if shut is not None:
        test.suspects = [part for part in test.suspects if behind(shut, part) != started]
        test.last, test.seen = "not behind" if started else "behind", test.seen or started
    elif not started:
        return TIGHT
    if not usable(pump):
        return LEAKS
    following = None if test.confirms else next_cock(pump, test.suspects)
    if following is not None:
        test.go(SHUT)
        test.before, test.cock, test.shut = test.cock, following.name, True
    elif {part.kind for part in test.suspects} == {"pump"}:
        test.go(LOOK)
    elif test.seen or test.confirms:
        return outcome(pump, test.suspects)
    else:
        test.go(AGAIN)
        test.before, test.cock, test.confirms = test.cock, "", True
    return None
