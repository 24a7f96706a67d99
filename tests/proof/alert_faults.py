"""Five hundred faults, each told once and within its rule's time to respond.

Faults of what rests on facts begin in the years of `alert_year`, after a day or two of ordinary life; those
that watchers find, in the lives of `alert_life`: a boat lives three ordinary days, from which the watchers
learn, and of the two that follow every minute is kept; a fault then begins at a moment of them and changes
what the instruments say from there on, by its own physics (a cell that nears its limit, a pump against an
open end, a bank that only gives). Sizes and moments are drawn; where a fault grows, its time runs from the
moment at which the truth passes the rule's limit, else from its beginning.

*Told* is the first alert of the expected rule and subject that calls, at the grade it should have; a cause
that explains it counts as having told it. *Twice* is a second alert of that rule and subject while the
fault lasts, three quarters of an hour at least. What else sounded stands in the row.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from monitor.alerts.rules import RULES
from monitor.records import Severity
from tests.proof.alert_boat import ALERTS, SOUNDS
from tests.proof.alert_fact_faults import FACTS, Story
from tests.proof.alert_fact_faults import LESSER as LESSER_OF_FACTS
from tests.proof.alert_watch_faults import CAUTIONS, WATCHED, Fault, watched
from tests.proof.harness import Case, Row, outside

FAULTS, EACH = 500, 16
KINDS: tuple[str | Fault, ...] = (*FACTS, *WATCHED)
LESSER: tuple[str | Fault, ...] = (*LESSER_OF_FACTS, *CAUTIONS)


def run(seed: int) -> Row:
    """One fault."""
    rng = np.random.default_rng([seed, 21])
    graver = EACH * len(KINDS)
    kind = KINDS[seed % len(KINDS)] if seed < graver else LESSER[(seed - graver) % len(LESSER)]
    if isinstance(kind, Fault):
        size, story = watched(kind, seed, rng)
        return _row(kind.rule, kind.subject, size, story, kind.grade(size) if kind.grade else None)
    subject, lived, grade = (FACTS | LESSER_OF_FACTS)[kind]
    size, story = lived(seed, rng)
    return _row(kind, subject, size, story, grade)


_GRADES = (Severity.CAUTION, Severity.WARNING, Severity.ALARM)


def _row(rule: str, subject: str, size: float, story: Story, grade: Severity | None) -> Row:
    """Told early, before the truth passed the limit, counts as told at once."""
    least = _GRADES.index(grade or Severity.WARNING)
    mine = [(s, c) for s, c in story.told if c.rule == rule and subject in ("", c.subject)]
    enough = [s for s, c in mine if _GRADES.index(c.severity) >= least]
    enough += [s for s, c in story.told if (c.rule, c.subject) in story.roots]
    within_s = RULES[rule].respond_s
    after_s = None if not enough else max(0.0, min(enough) - story.begun_s)
    others = sorted({c.rule for _, c in story.told if c.severity in SOUNDS} - {rule})
    return {
        "rule": rule,
        "size": round(size, 3),
        "minutes": None if after_s is None else round(after_s / 60, 2),
        "share": None if after_s is None else round(after_s / within_s, 4),
        "alerts": len({c.alert for _, c in mine if c.what in ("began", "came back")}),
        "others": ", ".join(others),
    }


def figures(rows: Sequence[Row]) -> dict[str, float]:
    """Told in time, late, twice; by rule how many, and the worst share of the time to respond."""
    shares = [float("inf") if row["share"] is None else row["share"] for row in rows]
    found = {
        "faults": float(len(rows)),
        "told in time": float(sum(share <= 1.0 for share in shares)),
        "told late": float(sum(1.0 < share < float("inf") for share in shares)),
        "not told": float(sum(share == float("inf") for share in shares)),
        "told twice": float(sum(row["alerts"] > 1 for row in rows)),
    }
    for rule in sorted({row["rule"] for row in rows}):
        here = [share for share, row in zip(shares, rows, strict=True) if row["rule"] == rule]
        known = [share for share in here if share < float("inf")]
        found[f"{rule}: faults"] = float(len(here))
        found[f"{rule}: worst share of its time"] = max(known, default=9.0)
    return found


def misses(found: Mapping[str, float]) -> list[str]:
    whole = {"faults": (FAULTS, FAULTS), "told in time": (FAULTS, FAULTS), "told twice": (0.0, 0.0)}
    return outside(found, whole)


CASES = [
    Case(
        "alert-faults",
        "Each of 500 faults is told within its rule's time to respond, and none twice",
        (*ALERTS, "monitor/estimation/*.py", "tests/proof/alert_*.py"),
        range(FAULTS),
        run,
        figures,
        misses,
        (0, 7, 9),
    )
]
