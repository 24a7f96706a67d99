"""Whether loads are named rightly from the house current alone, on simulated boats whose truth is known.

Each seed is a boat (`tests.estimation.loads.nights`): three nights are learned, then the crew gives at most
five names, and a fourth night is judged. Nothing switches in words: not even the pump's running is given.
Beside it stands an oracle, the same naming with kinds that carry the true signatures of the learned nights,
and what five names and the standing load took at all: no naming can be right about more.

A pump takes so little that it is seldom among five names: its F1 is that of the kinds that are its own,
named or not. All else goes by the names given. Tuned on other seeds.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from functools import partial

import numpy as np

from monitor.estimation.loads.book import LoadBook
from monitor.estimation.loads.naming import Named, name_loads
from monitor.estimation.loads.trace import Trace, trace_of
from monitor.records import LoadKind
from tests.estimation.loads.appliances import Floats, Runs
from tests.estimation.loads.nights import Night, lives
from tests.estimation.loads.scoring import (
    UNNAMED,
    by_runs,
    by_seconds,
    energy_error,
    rightly,
    standing_over,
    whose,
    wrongly,
)
from tests.estimation.loads.true_kinds import most_taken, true_kinds
from tests.proof.harness import Case, Row, kept, outside

CODE = (
    "monitor/estimation/loads/*.py",
    "tests/estimation/loads/appliances.py",
    "tests/estimation/loads/nights.py",
    "tests/estimation/loads/scoring.py",
    "tests/estimation/loads/true_kinds.py",
    "tests/proof/naming.py",
)
FIRST_BOAT = 40_000_000
LEARNED = 3
LABELS = 5
MAJORITY = 0.7
SLOW_BOATS = 75
SLOW_S = (1.5, 10.0)
MORE_WRONG = 0.03
COLD = ("fridge", "freezer")


def heard(night: Night) -> Trace:
    said = night.heard
    return trace_of(said.utc_s, said.amps, said.utc_s, said.volts)


def owners(named: Sequence[Named], nights: Sequence[Night], step_s: float) -> dict[str, str]:
    """By kind's id the appliance that made most of its runs; none where it made under 70 % of them."""
    runs: dict[str, Counter[str]] = {}
    for told, night in zip(named, nights, strict=True):
        for kind, when in told.runs.items():
            runs.setdefault(kind, Counter()).update(whose(run, night.runs, step_s) for run in when)
    most = {kind: (counted.most_common(1)[0], counted.total()) for kind, counted in runs.items() if counted}
    return {kind: name for kind, ((name, n), of) in most.items() if name and n >= MAJORITY * of}


def label_five(book: LoadBook, named: Sequence[Named], owned: Mapping[str, str]) -> None:
    """The five kinds that took most in the learned nights get the names of their owners, if they have any."""
    took = {kind.id: sum(float(told.watts[kind.id].sum()) for told in named) for kind in book.kinds}
    for kind in sorted(took, key=lambda kind: -took[kind])[:LABELS]:
        if kind in owned:
            book.label(kind, owned[kind])


def judged(named: Named, kinds: Sequence[LoadKind], pump: set[str], night: Night, part: Trace) -> Row:
    """The fourth night by what was told of it."""
    truth = night.truth_by(np.linspace(part.start_s, part.end_s, len(part.watts) + 1))
    watts: dict[str, Floats] = {}
    runs: dict[str, Runs] = {}
    for kind in kinds:
        if kind.name:
            watts[kind.name] = watts.get(kind.name, 0.0) + named.watts[kind.id]
            runs[kind.name] = (*runs.get(kind.name, ()), *named.runs.get(kind.id, ()))
    none = np.zeros(len(part.watts))
    row: Row = {
        "rightly": rightly(watts, named.standing_W, truth),
        "wrongly": wrongly(watts, truth),
        "standing_over": standing_over(watts, named.standing_W, truth),
        "labelled": len(watts),
        "kinds": len(kinds),
    }
    for name in COLD:
        row[f"{name}_error"] = energy_error(watts.get(name, none), truth[name])
        row[f"{name}_f1"] = by_seconds(runs.get(name, ()), night.runs[name], night.during)
    pumped = tuple(sorted(run for kind in pump for run in named.runs.get(kind, ())))
    row["pump_f1"] = by_seconds(pumped, night.runs["pump"], night.during)
    row["pump_runs_f1"] = by_runs(pumped, night.runs["pump"], night.during, max(1.0, part.step_s))
    row["pump_named"] = float("pump" in watts)
    return row


def within(night: Night, names: set[str]) -> float:
    """The share of the night's watt-hours that these took: what may be named rightly at all."""
    begin = round(night.during.start_s - night.start_s)
    took = {
        name: float(w[begin : begin + round(night.during.seconds)].sum()) for name, w in night.truth.items()
    }
    return sum(took[name] for name in names & took.keys()) / sum(took.values())


def named_night(every_s: float, seed: int) -> Row:
    """A boat: three nights learned and labelled, the fourth judged; the oracle's figures with it."""
    boat = lives(FIRST_BOAT + seed, every_s)
    past, night = [boat.night(number) for number in range(LEARNED)], boat.night(LEARNED)
    traces = [heard(before) for before in past]
    book = LoadBook()
    for trace, before in zip(traces, past, strict=True):
        book.learn(trace, before.during)
    told = [name_loads(trace, book.kinds, before.during) for trace, before in zip(traces, past, strict=True)]
    owned = owners(told, past, traces[0].step_s)
    label_five(book, told, owned)
    trace = heard(night)
    part = trace.part(*night.during)
    pump = {kind for kind, name in owned.items() if name == "pump"}
    row = judged(name_loads(trace, book.kinds, night.during), book.kinds, pump, night, part)
    kinds = true_kinds(past, LABELS)
    best = judged(name_loads(trace, kinds, night.during), kinds, {"pump"}, night, part)
    row["could"] = within(night, {*most_taken(past)[:LABELS], *UNNAMED})
    return {"every_s": every_s, **row, **{f"oracle_{name}": value for name, value in best.items()}}


def slow_night(seed: int) -> Row:
    """The same boats as for the quick instrument, heard every 1.5 s and then every 10 s."""
    return named_night(SLOW_S[seed // SLOW_BOATS], seed % SLOW_BOATS)


def figures(rows: Sequence[Row]) -> dict[str, float]:
    found: dict[str, float] = {}
    for who in ("", "oracle_"):
        column = {name: np.array([row[who + name] for row in rows]) for name in _COLUMNS}
        off = np.abs(column["fridge_error"])
        title = "oracle: " if who else ""
        found |= {
            f"{title}rightly named, median": float(np.median(column["rightly"])),
            f"{title}rightly named, 10th percentile": float(np.quantile(column["rightly"], 0.1)),
            f"{title}wrongly named, mean": float(column["wrongly"].mean()),
            f"{title}wrongly named, 90th percentile": float(np.quantile(column["wrongly"], 0.9)),
            f"{title}too much standing, mean": float(column["standing_over"].mean()),
            f"{title}fridge energy error, median": float(np.median(off)),
            f"{title}fridge energy error, 90th percentile": float(np.quantile(off, 0.9)),
            f"{title}freezer energy error, median": float(np.median(np.abs(column["freezer_error"]))),
            f"{title}fridge F1, median": float(np.median(column["fridge_f1"])),
            f"{title}freezer F1, median": float(np.median(column["freezer_f1"])),
            f"{title}pump F1, median": float(np.median(column["pump_f1"])),
            f"{title}pump F1 by runs, median": float(np.median(column["pump_runs_f1"])),
            f"{title}names given, mean": float(column["labelled"].mean()),
            f"{title}boats whose pump has a name": float(column["pump_named"].mean()),
        }
    return found | {
        "taken by five names and standing, median": float(np.median([row["could"] for row in rows]))
    }


_COLUMNS = (
    "rightly", "wrongly", "standing_over", "fridge_error", "freezer_error", "fridge_f1", "freezer_f1",
    "pump_f1", "pump_runs_f1", "labelled", "pump_named",
)  # fmt: skip


def slow_figures(rows: Sequence[Row]) -> dict[str, float]:
    found: dict[str, float] = {}
    for every_s in sorted({row["every_s"] for row in rows}):
        told = figures([row for row in rows if row["every_s"] == every_s])
        found |= {f"every {every_s:g} s: {name}": value for name, value in told.items()}
    return found


BARS = {
    "rightly named, median": (0.90, 1.0),
    "fridge energy error, median": (0.0, 0.05),
    "fridge energy error, 90th percentile": (0.0, 0.12),
    "fridge F1, median": (0.95, 1.0),
    "freezer F1, median": (0.95, 1.0),
    "pump F1, median": (0.90, 1.0),
    "pump F1 by runs, median": (0.90, 1.0),
}


def misses(found: Mapping[str, float]) -> list[str]:
    return outside(found, BARS)


def slow_misses(found: Mapping[str, float]) -> list[str]:
    """A slow instrument may leave more unnamed, not name more wrongly."""
    quick = kept(CASES[0])
    if quick is None:
        return ["to be compared with the proof `naming`, which was not run"]
    most = quick["figures"]["wrongly named, mean"] + MORE_WRONG
    names = [f"every {every_s:g} s: wrongly named, mean" for every_s in SLOW_S]
    return outside(found, {name: (0.0, most) for name in names if name in found})


CASES = [
    Case(
        name="naming",
        claim="after three nights and five names 90 % of a night's watt-hours are named rightly",
        code=CODE,
        seeds=range(150),
        run=partial(named_night, 1.0),
        figures=figures,
        misses=misses,
        slice=(3,),
    ),
    Case(
        name="naming-slow",
        claim="heard every 1.5 or 10 s, no more is named wrongly than every second and 3 % of a night",
        code=CODE,
        seeds=range(2 * SLOW_BOATS),
        run=slow_night,
        figures=slow_figures,
        misses=slow_misses,
        slice=(5, 80),
    ),
]
