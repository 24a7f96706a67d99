"""One guided test as it stands, and what a restart must not lose of it."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from monitor.estimation.guided_steps import LEAKS, STEPS, WAIT, Part

LEAST_WAIT_S = 20 * 60.0
PASSING = ("since_s", "full_s", "from_full_s", "lone_s", "bout_s", "warm_C")
"""Of no use after a restart: nobody saw what the pump did meanwhile."""


@dataclass(slots=True)
class GuidedTest:
    """Times are elapsed seconds of this boot, None where there are none in it."""

    pump: str
    step: str
    suspects: list[Part]
    cock: str = ""
    """Shut now, or asked to be."""
    before: str = ""
    """The one that was shut before it, to be opened again."""
    last: str = LEAKS
    """What the wait before showed: "leaks", "behind" or "not behind"."""
    note: str = ""
    """Why the wait began again, or "no refill"."""
    outcome: str = ""
    seen: bool = False
    """The pump has started with a cock shut, too: it was no draw that started it first."""
    confirms: bool = False
    """Nothing is shut any more: it waits whether the pump starts once more."""
    shut: bool = False
    """Some cock was asked to be shut: all are to be opened in the end."""
    wait_s: float = LEAST_WAIT_S
    starts: int = 0
    rests_h: list[float] = field(default_factory=list)
    """How long the pump stood still before each start of the first wait."""
    L_per_h: float | None = None
    """By these."""
    age_s: float = 0.0
    step_age_s: float = 0.0
    waited_s: float = 0.0
    """How long the last wait took."""
    since_s: float | None = None
    """When the wait began; None while it cannot begin."""
    full_s: float | None = None
    """When the pump last stopped by itself since the step was asked: its accumulator was full."""
    from_full_s: float | None = None
    """The same at the beginning of the wait."""
    lone_s: float | None = None
    """When the pump started for one refill, while it is not clear yet that it stays alone."""
    bout_s: float | None = None
    """Since when one run has followed upon another."""
    warm_C: dict[str, float] = field(default_factory=dict)
    """Heaters at the beginning of the wait."""

    @property
    def first(self) -> bool:
        """No cock has been shut yet."""
        return not self.cock and not self.confirms

    def go(self, step: str) -> None:
        """On to a step."""
        self.step, self.note, self.step_age_s = step, "", 0.0
        self.since_s = self.full_s = self.lone_s = self.bout_s = None

    def again(self, note: str, since_s: float | None, full_s: float | None = None) -> None:
        """The wait begins, or begins again; None: it cannot begin yet."""
        self.note, self.since_s, self.from_full_s = note, since_s, full_s
        self.starts, self.warm_C, self.lone_s = 0, {}, None
        if self.first:
            self.rests_h, self.L_per_h = [], None

    def interrupted(self) -> None:
        """Elapsed time began anew, or nobody watched for a while."""
        self.full_s = self.bout_s = None
        if self.step == WAIT:
            self.again("restarted", None)

    def state(self) -> dict[str, Any]:
        kept = asdict(self) | {"suspects": [list(part) for part in self.suspects]}
        return {name: value for name, value in kept.items() if name not in PASSING}


def restored(state: Mapping[str, Any], cocks: set[str]) -> GuidedTest:
    """The inverse of `GuidedTest.state`, as after a restart. Raises ValueError where its step, or a cock
    that it speaks of, is no more."""
    test = GuidedTest(**{**state, "suspects": [Part(*part) for part in state["suspects"]]})
    named = {test.cock, test.before, *(part.cock for part in test.suspects)} - {""}
    if test.step not in STEPS or not named <= cocks:
        raise ValueError(f"a guided test stood at {test.step!r} with {sorted(named)}")
    test.interrupted()
    return test
