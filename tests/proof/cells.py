"""Whether the charge count holds on cells that are not our simulator's: weeks of modelled lithium cells.

The cells, the five ways of living and the two hard ones are told in `traces/recipe.py`, with what "full"
and "capacity" mean; the sensor, which each seed draws anew, in `cell_sensor.py`. The bank has 85 to 105 %
of what its label says (old and new; common practice). Temperature is told in every other part. A third of
the trackers begin certain of a full bank, which it is not; the others know nothing.

A *gap end* is the first minute in which the cell is held at the full voltage and takes less than 4 % of
its capacity an hour: the last word of the count before the anchor can act. It is counted once the tracker
has found a first full. A *closure* is a stretch between two fulls that the tracker found. The *plain
count* begins at 100 % when the held charge is over, and believes its sensor. The *oracle* knows sensor and
loss exactly and starts where the tracker was anchored: what is left is the anchor's own error. A *glance*
is any time: what is shown beside the truth, most of it what is not known of the label.

How well fulls repeat is learned from the closures, so the band is narrower after a dozen of them than after
one; what all fulls of a bank have alike no closure shows, and no band may be narrower than that.
"""

import copy
from array import array
from collections.abc import Mapping, Sequence

import numpy as np

from monitor.estimation.bands import BAND_90
from monitor.estimation.charge import ChargeTracker
from monitor.records import Column
from monitor.settings import Bank
from tests.proof.cell_sensor import BLOCK_MIN, READINGS, Floats, Trace, blocks, said, steady, trace
from tests.proof.harness import Case, Row, outside

NORMAL = ("anchorage", "cloudy", "passage", "liveaboard", "half-charges")
HARD = ("hard-slow", "hard-broken-off")
PATTERNS = NORMAL + HARD
SEEDS_EACH = 50
KNEE_PCT, PLATEAU_PCT = (15.0, 30.0), (30.0, 95.0)
"""At 28 % these cells rest at 3.20 V: under it a rested voltage may count for something."""
SILENCE = Column(array("d"), array("d"))
GLANCES = 30
COUNTING = ("counting", "full", "priors", "repeats", "spans", "swing")
ESTIMATOR = ("charge", *COUNTING, "bank_rest", "knees", "low_end", "capacity")


def tracker(capacity_Ah: float, rng: np.random.Generator) -> ChargeTracker:
    """Knowing nothing, or certain of a full bank."""
    label_Ah = round(capacity_Ah / rng.uniform(0.85, 1.05))
    found = ChargeTracker(Bank(name="house", capacity_Ah=label_Ah))
    if rng.random() < 1 / 3:
        state = found.state()
        state["anchored"] = True
        state["count"]["cov"][0][0] = (0.005 * label_Ah) ** 2
        found.restore(state)
    return found


class Watch:
    """A tracker at work, held against the truth. `row` is what was found."""

    def __init__(self, true: Trace, found: ChargeTracker) -> None:
        self._true, self._found = true, found
        self._blind: ChargeTracker | None = None
        """On the plateau: the same tracker, which hears no voltage."""
        self._seen = self._learned = 0
        """Fulls that the tracker found, and stretches between two of them: closures."""
        self._anchor_pct = 0.0
        at_ends = ("gap_learned", "gap_days", "gap_error_pct", "gap_held", "gap_plain_pct", "gap_oracle_pct")
        at_any = ("glance_error_pct", "glance_count_pct", "glance_held", "glance_width_pct")
        self.row: Row = {name: [] for name in at_ends + at_any} | {"plateau_min": 0, "moved_at_pct": []}

    def take(self, current: Column, voltage: Column, told_C: bool, last: int) -> None:
        """Readings up to the end of the minute `last`."""
        temperature = steady(current, float(self._true.celsius[last])) if told_C else None
        self._found.take(current, voltage, temperature)
        if self._blind is not None:
            self._blind.take(current, SILENCE, temperature)
            self.row["plateau_min"] += len(current.times_s) // READINGS
        for full in self._found.full_events():
            self._learned += self._seen > 0 and full.miss_Ah is not None
            self._seen += 1
        if self._seen and (self._found.since_full_s or 0.0) <= 60.0:
            self._anchor_pct = self._error_pct(last)
        self._compare(last)

    def gap_end(self, minute: int, plain_Ah: float) -> None:
        """Here the bank is full, and the tracker does not know it yet."""
        since_s = self._found.since_full_s
        if not self._seen or since_s is None:
            return
        capacity_Ah, error_pct = self._true.capacity_Ah, self._error_pct(minute)
        self._add("gap_learned", self._learned)
        self._add("gap_days", round(since_s / 86400, 2))
        self._add("gap_error_pct", round(error_pct, 3))
        self._add("gap_held", int(abs(error_pct) <= 100 * BAND_90 * counted(self._found)[1] / capacity_Ah))
        plain_error_Ah = plain_Ah - float(self._true.below_Ah[minute])
        self._add("gap_plain_pct", round(100 * plain_error_Ah / capacity_Ah, 3))
        self._add("gap_oracle_pct", round(self._anchor_pct, 3))

    def glance(self, minute: int) -> None:
        """Any time after one closure: what is shown, as it is shown, beside the truth."""
        shown = self._found.estimates(60.0 * (minute + 1))[0]
        if not self._learned or shown.value is None or shown.low is None or shown.high is None:
            return
        true_pct = self._true.pct(minute)
        self._add("glance_error_pct", round(shown.value - true_pct, 2))
        self._add("glance_count_pct", round(self._error_pct(minute), 2))
        self._add("glance_held", int(shown.low <= true_pct <= shown.high))
        self._add("glance_width_pct", round(shown.high - shown.low, 2))

    def _compare(self, minute: int) -> None:
        """Notes every time that a voltage moved a count that began at a full charge, between the ends."""
        true_pct = self._true.pct(minute)
        if self._blind is not None and self._blind.posterior() != self._found.posterior():
            self._add("moved_at_pct", round(true_pct, 2))
            self._blind = None
        if not KNEE_PCT[0] < true_pct < PLATEAU_PCT[1] or not self._seen:
            self._blind = None
        elif self._blind is None:
            self._blind = copy.deepcopy(self._found)

    def _add(self, name: str, value: float) -> None:
        self.row[name].append(value)

    def _error_pct(self, minute: int) -> float:
        """How much too low the count stands; not cut off at full as what is shown is. [% of capacity]"""
        return 100 * (counted(self._found)[0] - float(self._true.below_Ah[minute])) / self._true.capacity_Ah


def counted(found: ChargeTracker) -> tuple[float, float]:
    """The charge below full as counted, and its standard deviation. [Ah]"""
    count = found.state()["count"]
    return float(count["mean"][0]), float(count["cov"][0][0] + count["common_Ah"] ** 2) ** 0.5


def run(seed: int) -> Row:
    """One pattern's weeks, seen through one sensor."""
    name = PATTERNS[seed % len(PATTERNS)]
    rng = np.random.default_rng(seed)
    true = trace(name)
    readings, watch = said(true, rng), Watch(true, tracker(true.capacity_Ah, rng))
    glances = set((rng.choice(true.amps.size // BLOCK_MIN, GLANCES, replace=False) * BLOCK_MIN).tolist())
    told_C = seed // len(PATTERNS) % 2 == 0
    gap_ends, after = dict(true.ends), 0
    summed_Ah = np.cumsum(readings.amps.mean(axis=1)) / 60
    for minutes in blocks(true):
        last = minutes.stop - 1
        watch.take(*readings.block(minutes), told_C, last)
        if last in gap_ends:
            watch.gap_end(last, float(summed_Ah[after] - summed_Ah[last]))
            after = gap_ends[last]
        if minutes.start in glances:
            watch.glance(last)
    return {"pattern": name, "fulls": len(true.ends), **watch.row}


def figures(rows: Sequence[Row]) -> dict[str, float]:
    found: dict[str, float] = {}
    for kind, names in (("", NORMAL), ("hard: ", HARD)):
        some = [row for row in rows if row["pattern"] in names]
        found |= {kind + name: value for name, value in _figures(some).items()}
    for pattern in PATTERNS:
        some = [row for row in rows if row["pattern"] == pattern]
        error, learned = _all(some, "gap_error_pct"), _all(some, "gap_learned")
        found[f"{pattern}: after one closure and more, 95th percentile"] = _p95(error[learned >= 1])
        found[f"{pattern}: anchors' own error, median"] = float(np.median(_all(some, "gap_oracle_pct")))
    return found


def _figures(rows: Sequence[Row]) -> dict[str, float]:
    error, learned = _all(rows, "gap_error_pct"), _all(rows, "gap_learned")
    moved_pct = _all(rows, "moved_at_pct")
    held, width_pct = _all(rows, "gap_held"), _all(rows, "glance_width_pct")
    return {
        "gap ends": float(error.size),
        "gap ends after one closure and more": float((learned >= 1).sum()),
        "days of a gap, median": float(np.median(_all(rows, "gap_days"))),
        "plain count, 95th percentile, % of capacity": _p95(_all(rows, "gap_plain_pct")),
        "oracle, 95th percentile": _p95(_all(rows, "gap_oracle_pct")),
        "before any closure, 95th percentile": _p95(error[learned == 0]),
        "after one closure, 95th percentile": _p95(error[learned == 1]),
        "from the second closure, 95th percentile": _p95(error[learned >= 2]),
        "from the second closure, median": float(np.median(np.abs(error[learned >= 2]))),
        "90 % band held at gap ends, after one closure and more": _mean(held[learned >= 1]),
        "90 % band held at gap ends, after a dozen closures": _mean(held[learned >= 12]),
        "glances at any time after one closure": float(width_pct.size),
        "at any time, 95th percentile": _p95(_all(rows, "glance_error_pct")),
        "at any time, the count's part, 95th percentile": _p95(_all(rows, "glance_count_pct")),
        "at any time, 90 % band held": float(_all(rows, "glance_held").mean()),
        "at any time, median width of the band": float(np.median(width_pct)),
        "days between 15 and 95 %": sum(row["plateau_min"] for row in rows) / 1440,
        "moved by a voltage between 30 and 95 %": float((moved_pct >= PLATEAU_PCT[0]).sum()),
        "moved by a voltage between 15 and 30 %, the knee": float((moved_pct < PLATEAU_PCT[0]).sum()),
    }


def _all(rows: Sequence[Row], name: str) -> Floats:
    return np.array([value for row in rows for value in row[name]], np.float64)


def _mean(values: Floats) -> float:
    return float(values.mean()) if values.size else np.nan


def _p95(values: Floats) -> float:
    return float(np.percentile(np.abs(values), 95)) if values.size else np.nan


def misses(found: Mapping[str, float]) -> list[str]:
    bars = {
        "gap ends after one closure and more": (200.0, np.inf),
        "after one closure, 95th percentile": (0.0, 2.0),
        "from the second closure, 95th percentile": (0.0, 1.5),
        "90 % band held at gap ends, after one closure and more": (0.85, 0.97),
        "at any time, 90 % band held": (0.85, 0.97),
        "moved by a voltage between 30 and 95 %": (0.0, 0.0),
        "hard: after one closure, 95th percentile": (0.0, 2.5),
        "hard: from the second closure, 95th percentile": (0.0, 1.5),
        # Not the 85 % of the others: broken off early, a tail misleads by more than is believed of it.
        "hard: at any time, 90 % band held": (0.80, 0.97),
        "hard: moved by a voltage between 30 and 95 %": (0.0, 0.0),
    }
    return outside(found, bars)


CASES = [
    Case(
        name="cells",
        claim="modelled cells, 66 days of five patterns and two hard ones: the error at the next full",
        code=(
            *(f"monitor/estimation/{name}.py" for name in ESTIMATOR),
            "tests/proof/cells.py",
            "tests/proof/cell_sensor.py",
            "tests/proof/traces/*.npz",
        ),
        seeds=range(2001, 2001 + SEEDS_EACH * len(PATTERNS)),
        run=run,
        figures=figures,
        misses=misses,
        slice=(2001, 2006),
    )
]
