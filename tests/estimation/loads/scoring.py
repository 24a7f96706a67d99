"""How rightly a night's power was named: shares of its watt-hours, errors by appliance, on and off, runs.

Arrays are watts by step of the same grid; runs are intervals in UTC seconds. F1 by the second is
scikit-learn's (`sklearn.metrics.f1_score`), an independent library.
"""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from sklearn.metrics import f1_score

from monitor.clock import Interval
from tests.estimation.loads.appliances import Floats, Runs

UNNAMED = ("standing", "inverter")
"""What nobody switches: told as standing load, it is told rightly."""


def rightly(named: Mapping[str, Floats], standing: Floats, truth: Mapping[str, Floats]) -> float:
    """Share of the true watt-hours that are told under their own name, or as standing where they stand.

    An inverter that was named is not looked for in the standing load once more.
    """
    told = {name: np.minimum(watts, truth.get(name, 0.0)) for name, watts in named.items()}
    stands = sum(truth[name] - told.get(name, 0.0) for name in UNNAMED if name in truth)
    right = sum(float(watts.sum()) for watts in told.values())
    return (right + float(np.minimum(standing, stands).sum())) / _total(truth)


def wrongly(named: Mapping[str, Floats], truth: Mapping[str, Floats]) -> float:
    """Watt-hours told under a name that did not take them, as a share of the true ones."""
    wrong = (np.maximum(watts - truth.get(name, 0.0), 0.0) for name, watts in named.items())
    return sum(float(watts.sum()) for watts in wrong) / _total(truth)


def standing_over(named: Mapping[str, Floats], standing: Floats, truth: Mapping[str, Floats]) -> float:
    """Watt-hours told as standing load that were a switched one's, as a share of the true ones."""
    told = {name: np.minimum(watts, truth.get(name, 0.0)) for name, watts in named.items()}
    stands = sum(truth[name] - told.get(name, 0.0) for name in UNNAMED if name in truth)
    return float(np.maximum(standing - stands, 0.0).sum()) / _total(truth)


def energy_error(named: Floats, true: Floats) -> float:
    """Of one appliance's watt-hours, as a share: -1 where none were told. NaN where it took none."""
    return float(named.sum() / true.sum() - 1) if true.any() else float("nan")


def by_seconds(found: Runs, true: Runs, during: Interval) -> float:
    """F1 of on and off at the middle of each second. 1 where it never ran and none was found."""
    on, was_on = _on(found, during), _on(true, during)
    return float(f1_score(was_on, on, zero_division=1.0))


def by_runs(found: Runs, true: Runs, during: Interval, tolerance_s: float = 1.0) -> float:
    """F1 of runs: a run is found if one overlaps it within the tolerance. Each finds one at most."""
    found, true = _begun(found, during), _begun(true, during)
    hits, first = 0, 0
    for on_s, off_s in true:
        while first < len(found) and found[first][1] + tolerance_s < on_s:
            first += 1
        if first < len(found) and found[first][0] <= off_s + tolerance_s:
            hits += 1
            first += 1
    return 2 * hits / (len(found) + len(true)) if found or true else 1.0


def likeness(run: tuple[float, float], true: tuple[float, float], tolerance_s: float) -> float:
    """What two intervals share, as a part of what both cover; the ends are forgiven the tolerance."""
    common = min(run[1], true[1]) - max(run[0], true[0]) + tolerance_s
    covered = max(run[1], true[1]) - min(run[0], true[0])
    return float(np.clip(common / covered, 0.0, 1.0)) if covered else 1.0


def whose(run: tuple[float, float], truth: Mapping[str, Runs], tolerance_s: float) -> str:
    """The appliance whose run is most like this one; "" where none is so by a half."""
    best, name = max(
        ((likeness(run, true, tolerance_s), name) for name, runs in truth.items() for true in runs),
        default=(0.0, ""),
    )
    return name if best >= 0.5 else ""


def _total(truth: Mapping[str, Floats]) -> float:
    return sum(float(watts.sum()) for watts in truth.values())


def _begun(runs: Sequence[tuple[float, float]], during: Interval) -> Runs:
    return tuple(sorted(run for run in runs if during.start_s <= run[0] < during.end_s))


def _on(runs: Runs, during: Interval) -> NDArray[np.bool_]:
    on = np.zeros(round(during.seconds), dtype=bool)
    for on_s, off_s in runs:
        first, end = (round(max(edge - during.start_s, 0.0)) for edge in (on_s, off_s))
        on[first:end] = True
    return on
