"""The rows of a guided test: its steps, the parts of the plumbing, and which cock halves what is suspected.

A cock "before the pump" is never asked for: a pump that is switched on against a shut suction runs dry.
A cock between a heater and its relief valve or expansion vessel has no place in the settings at all.
"""

from collections.abc import Sequence
from typing import NamedTuple

from monitor.settings import Cock, Pump

DONE, DREW = "done", "drew"
COOL, TAPS, SHUT, WAIT = "cool the heater", "shut the taps", "shut the cock", "wait"
AGAIN = "open and wait again"
LOOK, BACK, OVER = "look at the pump", "put back", "over"


class Step(NamedTuple):
    """What the crew can answer there, and where "done" leads."""

    answers: tuple[str, ...] = ()
    then: str = ""
    refill: bool = False
    """The pump must have run and stopped while it is asked: it is on then, and its accumulator is full."""


STEPS: dict[str, Step] = {
    COOL: Step((DONE,), TAPS),
    TAPS: Step((DONE,), WAIT, refill=True),
    SHUT: Step((DONE,), WAIT, refill=True),
    AGAIN: Step((DONE,), WAIT, refill=True),
    WAIT: Step((DREW,)),
    LOOK: Step(("wet", "dry", "unseen")),
    BACK: Step((DONE,), OVER),
    OVER: Step(),
}

LOOKS = {"wet": "leak at the pump", "dry": "check valve leaks back", "unseen": "pump side"}
"""What is found where the pump starts with the cock behind it shut, by what the crew sees there."""

BEHIND: dict[str, tuple[str, ...]] = {
    "after the pump": ("common", "cold", "heater", "hot"),
    "cold branch": ("cold",),
    "to the heater": ("heater", "hot"),
    "after the heater": ("hot",),
}
"""The kinds of parts that a shut cock takes off the pump, by its place."""
OWN = {"cold branch": "cold", "after the heater": "hot"}
"""Of these a boat may have several, and each has a part of its own behind it."""
WEIGHT = {"pump": 0.40, "common": 0.05, "cold": 0.25, "heater": 0.10, "hot": 0.20}
"""How often each is the cause of starts with nobody drawing: valves of pumps most. Common practice, ours;
only the order of the cocks follows from it."""

FOUND: dict[frozenset[str], str] = {
    frozenset({"common"}): "common pipes",
    frozenset({"cold"}): "cold branch",
    frozenset({"heater"}): "heater",
    frozenset({"hot"}): "hot side",
    frozenset({"heater", "hot"}): "heater or hot side",
}
"""What is found where these kinds of parts stay suspected."""
BEYOND, ELSEWHERE = "beyond the pump", "elsewhere"
TIGHT, LEAKS, STOPPED, GIVEN_UP = "tight", "leaks", "stopped", "given up"
OUTCOMES = (TIGHT, LEAKS, *LOOKS.values(), *FOUND.values(), BEYOND, ELSEWHERE, STOPPED, GIVEN_UP)


class Part(NamedTuple):
    """A part of the plumbing; with the name of the cock before it, where it has one of its own."""

    kind: str
    cock: str = ""


def usable(pump: Pump) -> list[Cock]:
    """The cocks that a test may ask for."""
    return [cock for cock in pump.cocks if cock.place in BEHIND]


def parts(pump: Pump, heater: bool) -> list[Part]:
    """All that may leak. `heater`: there is one aboard."""
    cocks = usable(pump)
    heater = heater or any("heater" in cock.place for cock in cocks)
    found = []
    for kind in WEIGHT:
        own = [Part(kind, cock.name) for cock in cocks if OWN.get(cock.place) == kind]
        if heater or kind not in ("heater", "hot"):
            found += own or [Part(kind)]
    return found


def behind(cock: Cock, part: Part) -> bool:
    """Whether a shut cock takes this part off the pump."""
    if cock.place in OWN:
        return part.cock == cock.name
    return part.kind in BEHIND[cock.place]


def next_cock(pump: Pump, suspects: Sequence[Part]) -> Cock | None:
    """The cock that comes nearest to halving what is suspected; None where none parts it."""
    each = {kind: sum(p.kind == kind for p in suspects) for kind in WEIGHT}
    whole = sum(WEIGHT[p.kind] / each[p.kind] for p in suspects)
    best, best_off = None, 0.5
    for cock in usable(pump):
        share = sum(WEIGHT[p.kind] / each[p.kind] for p in suspects if behind(cock, p)) / whole
        off = abs(share - 0.5)
        if off < best_off - 1e-9:
            best, best_off = cock, off
    return best


def cleared(pump: Pump, suspects: Sequence[Part]) -> str:
    """The names of the cocks behind which nothing is suspected any more."""
    return ", ".join(c.name for c in usable(pump) if not any(behind(c, p) for p in suspects))


def outcome(pump: Pump, suspects: Sequence[Part]) -> str:
    """What is found where no cock parts these any more."""
    kinds = frozenset(part.kind for part in suspects)
    beyond = "pump" not in kinds and not cleared(pump, suspects)
    return FOUND.get(kinds, BEYOND if beyond else ELSEWHERE)
