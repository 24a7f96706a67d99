"""What a ledger is made of: parts of one name each, their marks, and sums that are seen to be exact."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from monitor.estimation.ledger import STANDING, SURE_NAME
from monitor.records import LoadKind, NightLedger, Share, Usual

UNEXPLAINED, MADE = "unexplained", "made"
"""Keys of `Account.watts`."""
NAMED, UNNAMED, TOGETHER = "named", "unnamed", "not told apart"
MOST_MARKS = 7
"""So many named parts have a pattern of their own; the lighter ones share the last."""

MOST_UNNAMED = 3
"""And so many without a name."""


@dataclass(frozen=True, slots=True)
class Part:
    """One line of what was used. `keys` are those of `Account.watts`; `Wh` is unrounded."""

    kind: str
    """NAMED, UNNAMED, STANDING, UNEXPLAINED, or TOGETHER in its place where loads were not told apart."""
    name: str
    keys: tuple[str, ...]
    Wh: float
    confidence: float
    runs: tuple[tuple[float, float], ...] | None
    load: str = ""
    mark: str = ""
    """Its letter on the strip and in the ledger."""
    pattern: str = ""


@dataclass(frozen=True, slots=True)
class Parts:
    """All that was used: `named`, `standing` and `unexplained` are the whole; `unnamed` and `rest_Wh` are
    the unexplained again, by the loads in it."""

    named: tuple[Part, ...]
    standing: Part | None
    unexplained: Part | None
    unnamed: tuple[Part, ...]

    @property
    def whole(self) -> tuple[Part, ...]:
        return (*self.named, *(p for p in (self.standing, self.unexplained) if p is not None))

    @property
    def rest_Wh(self) -> float:
        return (self.unexplained.Wh if self.unexplained else 0.0) - sum(p.Wh for p in self.unnamed)

    @property
    def all(self) -> tuple[Part, ...]:
        return (*self.whole, *self.unnamed)


def parts_of(n: NightLedger, *, told_apart: bool = True) -> Parts:
    """The ledger's shares, those of one name together, the heaviest first.

    What is unexplained is what the others leave of what was used, so that the sum is exact.
    """
    named = sorted(_by_name(s for s in n.by if s.what and s.what != STANDING), key=lambda p: -p.Wh)
    marked = [_marked(p, min(i, MOST_MARKS)) for i, p in enumerate(named)]
    standing = [s for s in n.by if s.what == STANDING]
    base = None
    if standing:
        sure, base_Wh = min(s.confidence for s in standing), sum(s.Wh for s in standing)
        base = Part(STANDING, STANDING, (STANDING,), base_Wh, sure, None, mark="s", pattern="standing")
    unnamed = sorted((s for s in n.by if not s.what), key=lambda s: -s.Wh)
    left = None
    if n.used_Wh is not None:
        explained_Wh = sum(p.Wh for p in named) + (base.Wh if base else 0.0)
        left_Wh = n.used_Wh - explained_Wh
        kind, mark = (UNEXPLAINED, "?") if told_apart else (TOGETHER, "")
        pattern = "unexplained" if told_apart else "load-7"
        left = Part(kind, kind, (UNEXPLAINED,), left_Wh, 1.0, None, "", mark, pattern)
    return Parts(tuple(marked), base, left, tuple(_unnamed(s, i) for i, s in enumerate(unnamed)))


def _unnamed(s: Share, n: int) -> Part:
    pattern = f"unnamed-{min(n, MOST_UNNAMED)}"
    return Part(UNNAMED, "", (s.load,), s.Wh, s.confidence, s.runs, s.load, f"?{n + 1}", pattern)


def by_names_now(n: NightLedger, kinds: Iterable[LoadKind]) -> NightLedger:
    """A ledger that was written earlier, with its loads called what the crew calls them now."""
    known = {kind.id: kind for kind in kinds}

    def called(share: Share) -> Share:
        kind = known.get(share.load)
        if kind is None:
            return share
        return replace(share, what=kind.name if kind.confidence >= SURE_NAME else "")

    return replace(n, by=tuple(called(share) for share in n.by))


def _by_name(shares: Iterable[Share]) -> list[Part]:
    found: dict[str, list[Share]] = {}
    for share in shares:
        found.setdefault(share.what, []).append(share)
    return [_together(name, group) for name, group in found.items()]


def _together(name: str, shares: Sequence[Share]) -> Part:
    """Shares of one name as one: as sure as the least sure of them."""
    runs = None
    if all(s.runs is not None for s in shares):
        runs = tuple(sorted(run for s in shares for run in s.runs or ()))
    keys = tuple(dict.fromkeys(s.load or s.what for s in shares))
    load = next((s.load for s in shares if s.load), "")
    return Part(
        NAMED, name, keys, sum(s.Wh for s in shares), min(s.confidence for s in shares), runs, load
    )  # fmt: skip


def _marked(p: Part, n: int) -> Part:
    return replace(p, mark="abcdefgh"[n], pattern=f"load-{n}")


def apportioned(total: float, parts: Sequence[float], unit: float = 1.0) -> tuple[int, list[int]]:
    """A total and its parts in whole units, which add up: the largest remainders are rounded up.

    `parts` add up to `total`. Hamilton's method, as for seats by votes.
    """
    whole = round(total / unit)
    floors = [int(p / unit // 1) for p in parts]
    remainders = sorted(range(len(parts)), key=lambda i: floors[i] - parts[i] / unit)
    for i in remainders[: max(0, whole - sum(floors))]:
        floors[i] += 1
    return whole, floors


def usual_of(part: Part, usual: Usual, parts: Parts) -> float | None:
    """What nights like this one usually use of it; None where that is not known. What is usually
    unexplained is what the others leave, as in the night itself."""
    if part is parts.unexplained:
        others = [usual_of(p, usual, parts) or 0.0 for p in parts.whole if p is not part]
        return usual.used_Wh - sum(others)
    found = [usual.by_Wh[key] for key in dict.fromkeys((*part.keys, part.name)) if key in usual.by_Wh]
    return sum(found) if found else None
