"""Kinds of loads as they would be learned by one who sees each appliance's own power."""

from collections.abc import Sequence

import numpy as np

from monitor.records import LoadKind
from tests.estimation.loads.appliances import Floats
from tests.estimation.loads.nights import Night
from tests.estimation.loads.scoring import UNNAMED

HOW = {"fridge": "cycles", "freezer": "cycles", "pump": "pulses", "laptop": "varies", "heater": "varies"}
STARTS_S = 4
"""So long a motor starts,"""
LOOK_S = 15
"""and so long one looks at what it takes then, and before it ends."""


def most_taken(nights: Sequence[Night]) -> list[str]:
    """The appliances that somebody or something switches, by their watt-hours in these nights."""
    took = {name: sum(float(night.truth[name].sum()) for night in nights) for name in nights[0].truth}
    return sorted((name for name in took if name not in UNNAMED and took[name]), key=lambda name: -took[name])


def true_kinds(nights: Sequence[Night], names: int) -> tuple[LoadKind, ...]:
    """One for each appliance that began and ended within these nights; so many of them have their names."""
    found = []
    for rank, name in enumerate(most_taken(nights)):
        whole = [run for night in nights for run in _whole(night, name)]
        if whole:
            begun = [float(watts[min(STARTS_S, len(watts) // 2) :][:LOOK_S].mean()) for watts in whole]
            ends = [float(watts[-LOOK_S:].mean()) for watts in whole]
            log_s = np.log([len(watts) for watts in whole])
            kind = LoadKind(
                id=name,
                start_W=float(np.median(begun)),
                watts=float(np.median(ends)),
                sd_W=max(1.0, float(np.std(ends))),
                on_s=float(np.exp(np.median(log_s))),
                on_spread=max(0.1, float(log_s.std())),
                how=HOW.get(name, "runs"),
                confidence=1.0,
                runs=len(whole),
                nights=len(nights),
                seen_s=nights[-1].during.end_s,
                name=name if rank < names else "",
            )
            found.append(kind)
    return tuple(found)


def _whole(night: Night, name: str) -> list[Floats]:
    """By run the watts of its whole seconds, of runs that begin and end in the night as it was heard."""
    watts = night.truth[name]
    seconds = [(int(np.ceil(a - night.start_s)), int(b - night.start_s)) for a, b in night.runs[name]]
    return [watts[first:end] for first, end in seconds if 0 < first < end < len(watts)]
