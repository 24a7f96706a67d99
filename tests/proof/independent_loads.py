"""Whether a load once named is found again: nights of a published load model that knows nothing of this.

Three nights of a household are learned, then kinds of load get their names as a crew would give them: each
the name of what was switched on at the begin of most of its runs, if that keeps food cold or is among the
strongest others of every night, five in all. The fourth night is judged, beside combinatorial optimisation
with the very same kinds and the same standing power (`usual`), and with the load model's own watts of the
five (`told`).
"""

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np
from sklearn.metrics import f1_score

from monitor.estimation.loads.book import LoadBook
from monitor.estimation.loads.naming import Named, name_loads
from monitor.estimation.loads.trace import Trace, trace_of
from tests.proof.appliances.nights import COLD, HOUSEHOLDS, NIGHTS, VOLTS, Night
from tests.proof.combinatorial import MOST, nearest
from tests.proof.harness import Case, Row, outside
from tests.proof.oracle import Floats

NAMES = 5
_AT_ONCE_S = 3.0
"""What began no farther from a run's begin is what began it."""


def run(seed: int) -> Row:
    """One household: error of the energy and F1 of what keeps its food cold, and F1 of the others."""
    *past, last = (Night(seed, number) for number in range(NIGHTS))
    names = _names(past)
    book = LoadBook()
    for night in past:
        book.learn(_trace(night), night.during)
    _label(book, past, names)

    named = name_loads(_trace(last), book.kinds, last.during)
    ours = [(kind.name, named.watts[kind.id]) for kind in book.kinds]
    # Whatever has a name, then the strongest.
    first = sorted(book.kinds, key=lambda kind: (not kind.name, -named.watts[kind.id].sum()))[:MOST]
    usual = _combined(named, named.standing_W, [(kind.name, kind.watts) for kind in first])
    told = _combined(named, last.standing_W, [(name, _usual_W(past, name)) for name in names])
    row: Row = {"cold": names[0], "kinds": len(book.kinds)}
    for way, parts in (("", ours), ("usual_", usual), ("told_", told)):
        row |= {f"{way}{what}": value for what, value in _judged(parts, last, names).items()}
    return row


def _trace(night: Night) -> Trace:
    return trace_of(night.utc_s, night.amps, night.utc_s, np.full(night.utc_s.size, VOLTS))


def _names(past: Sequence[Night]) -> list[str]:
    """What keeps food cold, then what drew most of that which was on every night."""
    nightly = set.intersection(*({run.name for run in night.runs} for night in past))
    cold = [name for name in COLD if name in nightly]
    drew = {name: sum(float(night.watts(name).sum()) for night in past) for name in nightly - set(cold)}
    return (cold + sorted(drew, key=lambda name: (-drew[name], name)))[:NAMES]


def _usual_W(past: Sequence[Night], name: str) -> float:
    drawn = np.concatenate([night.watts(name) for night in past])
    return float(np.median(drawn[drawn > 0]))


def _label(book: LoadBook, past: Sequence[Night], names: Sequence[str]) -> None:
    began: dict[str, Counter[str]] = {kind.id: Counter() for kind in book.kinds}
    for night in past:
        named = name_loads(_trace(night), book.kinds, night.during)
        for load, runs in named.runs.items():
            began[load].update(_began(night, start_s) for start_s, _ in runs)
    for load, by in began.items():
        most = max(by, key=by.__getitem__, default="")
        if most in names:
            book.label(load, most)


def _began(night: Night, at_s: float) -> str:
    """What the crew saw being switched on; nothing where nothing was."""
    nearest_run = min(night.runs, key=lambda run: abs(night.start_s + run.start - at_s))
    return nearest_run.name if abs(night.start_s + nearest_run.start - at_s) <= _AT_ONCE_S else ""


def _combined(
    named: Named, standing_W: float | Floats, loads: Sequence[tuple[str, float]]
) -> list[tuple[str, Floats]]:
    on = nearest(named.used_W, standing_W, [watts for _, watts in loads])
    return [(name, watts * row) for (name, watts), row in zip(loads, on, strict=True)]


def _judged(parts: Sequence[tuple[str, Floats]], night: Night, names: Sequence[str]) -> dict[str, float]:
    true = np.array([night.watts(name)[night.within] for name in names])
    said = np.zeros_like(true)
    for name, watts in parts:
        if name:
            said[names.index(name)] += watts
    cold_Wh = true[0].sum()
    return {
        "error": float(abs(said[0].sum() - cold_Wh) / cold_Wh),
        "f1": float(f1_score(true[0] > 0, said[0] > 0)),
        "others_f1": float(f1_score((true[1:] > 0).ravel(), (said[1:] > 0).ravel(), zero_division=1.0)),
    }


def figures(rows: Sequence[Row]) -> dict[str, float]:
    found: dict[str, float] = {"households": len(rows)}
    for way in ("", "usual_", "told_"):
        errors = [row[f"{way}error"] for row in rows]
        found[f"{way}error, median"] = float(np.median(errors))
        found[f"{way}error, 90th percentile"] = float(np.quantile(errors, 0.9))
        for what in ("f1", "others_f1"):
            found[f"{way}{what}"] = float(np.mean([row[f"{way}{what}"] for row in rows]))
    found["error to the usual's"] = found["error, median"] / found["usual_error, median"]
    found["f1 above the usual's"] = found["f1"] - found["usual_f1"]
    return found


def misses(found: Mapping[str, float]) -> list[str]:
    bars = {
        "error, median": (0.0, 0.10),
        "error to the usual's": (0.0, 1.0),
        "f1 above the usual's": (0.0, 1.0),
    }
    return outside(found, bars)


CASES = [
    Case(
        name="independent-loads",
        claim="the energy of what keeps food cold is told to a tenth in the median of households, nearer"
        " than combinatorial optimisation tells it",
        code=(
            "monitor/estimation/loads/*.py",
            "tests/proof/appliances/nights.*",
            "tests/proof/combinatorial.py",
            "tests/proof/independent_loads.py",
        ),
        seeds=range(HOUSEHOLDS),
        run=run,
        figures=figures,
        misses=misses,
        slice=(0,),
    )
]
