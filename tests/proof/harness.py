"""What a proof is, and how it is run: in seeded parts, resumable, its results kept as JSON.

A module of this folder takes part by having `CASES: list[Case]`. A part is one seed's work and
always gives the same row. Results hold every row, so that a slice of them can be repeated in the
ordinary tests and anyone can judge the figures again.
"""

import hashlib
import importlib
import json
import os
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
RESULTS = HERE / "results"
_NOT_CASES = {"__init__", "__main__", "harness"}
_SAVE_EVERY_S = 10.0

Row = dict[str, Any]
"""What one part found: JSON values."""


@dataclass(frozen=True)
class Case:
    """One claim and how it is proved."""

    name: str
    claim: str
    code: tuple[str, ...]
    """Globs, from the project's root, of the files the claim is about: their hash stands in the results."""
    seeds: range
    """One part for each."""
    run: Callable[[int], Row]
    """The work of one seed."""
    figures: Callable[[Sequence[Row]], dict[str, float]]
    """The rows of all seeds, in order, as figures."""
    misses: Callable[[Mapping[str, float]], list[str]]
    """One line for each figure that misses what is claimed; empty when the claim holds."""
    slice: tuple[int, ...]
    """The seeds that the ordinary tests repeat: a second or two of work in all."""
    whole: bool = True
    """False until the proof has been run from end to end: nothing is claimed by it yet, and the ordinary
    tests ask nothing of it."""


def cases() -> list[Case]:
    """Every case of every module in this folder."""
    found: list[Case] = []
    for path in sorted(HERE.glob("*.py")):
        if path.stem not in _NOT_CASES and not path.stem.startswith("test_"):
            found += getattr(importlib.import_module(f"tests.proof.{path.stem}"), "CASES", [])
    return found


def code_hash(case: Case) -> str:
    """SHA-256 over the names and contents of the case's code."""
    digest = hashlib.sha256()
    for path in sorted({path for pattern in case.code for path in ROOT.glob(pattern)}):
        digest.update(path.relative_to(ROOT).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


def kept(case: Case) -> dict[str, Any] | None:
    """The results as they stand in the folder."""
    path = RESULTS / f"{case.name}.json"
    return json.loads(path.read_text("utf-8")) if path.exists() else None


def prove(case: Case, *, fresh: bool = False) -> Iterator[int]:
    """Run what is missing, yielding the number of parts done. Other code, or `fresh`: run everything."""
    code = code_hash(case)
    before = kept(case)
    known: dict[int, Row] = {}
    if before is not None and before["code_sha256"] == code and not fresh:
        known = dict(zip(before["seeds"], before["rows"], strict=True))
    saved_at = time.monotonic()
    for done, seed in enumerate(case.seeds, 1):
        if seed not in known:
            known[seed] = json.loads(json.dumps(case.run(seed)))
            if time.monotonic() - saved_at > _SAVE_EVERY_S:
                _save(case, code, known)
                saved_at = time.monotonic()
        yield done
    _save(case, code, known)


def _save(case: Case, code: str, known: Mapping[int, Row]) -> None:
    seeds = [seed for seed in case.seeds if seed in known]
    rows = [known[seed] for seed in seeds]
    figures = case.figures(rows)
    result = {
        "claim": case.claim,
        "code_sha256": code,
        "parts": len(rows),
        "parts_wanted": len(case.seeds),
        "figures": figures,
        "misses": case.misses(figures),
    }
    head = json.dumps(result, indent=1, ensure_ascii=False)[:-2]
    body = ",\n  ".join(json.dumps(row) for row in rows)
    text = f'{head},\n "seeds": {json.dumps(seeds)},\n "rows": [\n  {body}\n ]\n}}\n'
    RESULTS.mkdir(exist_ok=True)
    path = RESULTS / f"{case.name}.json"
    partial = path.with_suffix(".partial")
    partial.write_text(text, "utf-8")
    os.replace(partial, path)


def outside(found: Mapping[str, float], bars: Mapping[str, tuple[float, float]]) -> list[str]:
    """One line for each figure that lies outside its bars."""
    return [
        f"{name}: {found[name]:.3g}, wanted {low:g} to {high:g}"
        for name, (low, high) in bars.items()
        if not low <= found[name] <= high
    ]
