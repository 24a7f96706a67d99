"""A span as one strip over time: each load's power a band on the one below, gaps left as gaps."""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from monitor.clock import DAY_S, HOUR_S
from monitor.records import Account
from monitor.words.units import known, watts
from web.drawing.axis import Axis, Tick, even_axis
from web.presentation.figures import Reader
from web.presentation.night_parts import MADE, MOST_MARKS, UNEXPLAINED, Part, Parts
from web.presentation.ship_ticks import ticks

FINEST_S, MOST_STEPS = 120.0, 480
WIDTH, HEIGHT = 700.0, 230.0
"""The drawing as a small panel shows it, to decide where a letter finds room. [px]"""
LETTER, TALL = 11.0, 14.0
"""A letter's width and height. [px]"""
SCALE_X = 0.1
"""To the left of this the scale has its words."""
NICE_W = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000)
USUALLY, BEYOND = 0.98, 1.15
"""The strip reaches so far beyond what is usually used at once: short peaks are cut off, and named."""
NAN = float("nan")


@dataclass(frozen=True, slots=True)
class Label:
    x: float
    y: float
    text: str


@dataclass(frozen=True, slots=True)
class Band:
    pattern: str
    path: str
    label: Label | None


@dataclass(frozen=True, slots=True)
class Bands:
    axis: Axis
    nights: tuple[tuple[float, float], ...]
    hours: tuple[Tick, ...]
    bands: tuple[Band, ...]
    scale: tuple[tuple[float, str], ...]
    """Ruled lines: y and its watts."""
    gaps: tuple[tuple[float, float], ...]
    """Left edge and width."""
    peak: Label | None
    """The most used at once, where it reaches beyond the strip."""
    made: str
    made_label: str
    told: str


def bands(reader: Reader, account: Account, parts: Parts) -> Bands | None:
    """None where there is nothing to draw."""
    n = account.ledger
    length = max((len(w) for w in account.watts.values()), default=0)
    if not length or n.end_s <= n.start_s:
        return None
    span_s = length * account.step_s
    every = max(1, round(max(FINEST_S, span_s / MOST_STEPS) / account.step_s))
    layers = [(p, thin(account, keys, every)) for p, keys in _stack(reader, account, parts)]
    layers = [(p, w) for p, w in layers if any(v > 0 for v in w)]
    total = [sum(column) for column in zip(*(w for _, w in layers), strict=True)]
    heard = sorted(v for v in total if known(v))
    if not heard:
        return None
    axis = even_axis(n.start_s, n.start_s + span_s, reader.dress.zone)
    step = every * account.step_s / span_s
    top = _nice(min(heard[-1], BEYOND * heard[int(USUALLY * (len(heard) - 1))]))
    made = thin(account, (MADE,), every)
    most_made = max((v for v in made if known(v)), default=0.0)
    drawn, below = [], [0.0] * len(total)
    for _, group in groupby(layers, key=lambda layer: layer[0].pattern):
        members = list(group)
        above = [b + sum(w[i] for _, w in members) for i, b in enumerate(below)]
        drawn.append(_band(members[0][0], below, above, top, step))
        below = above
    peak_i = max(range(len(total)), key=lambda i: total[i] if known(total[i]) else -1.0)
    peak_s = n.start_s + (peak_i + 0.5) * every * account.step_s
    peak = reader.say("strip peak", watts=heard[-1], at=peak_s)
    names = ", ".join(dict.fromkeys(p.name or p.mark for p, _ in layers))
    return Bands(
        axis=axis,
        nights=axis.spans(reader.snapshot.darkness),
        hours=ticks(axis, _every_s(span_s), reader),
        bands=tuple(_apart(drawn)),
        scale=tuple((1 - w / top, watts(w, reader.dress)) for w in _rules(top)),
        gaps=_gaps(total, step),
        peak=Label((peak_i + 0.5) * step, 0.0, peak) if heard[-1] > top else None,
        made=staircase([0.0] * len(made), made, _nice(most_made), step) if most_made >= 1 else "",
        made_label=reader.word("made, up to {watts:watts}", watts=_nice(most_made)),
        told=reader.say("strip by load told", peak=peak, bands=names),
    )


def _stack(reader: Reader, account: Account, parts: Parts) -> list[tuple[Part, tuple[str, ...]]]:
    """From the bottom, each with its keys: the standing load, what cycles, what is switched, what has no
    name, the rest. No key of the account is left out, so that the whole is what was used."""
    kinds = reader.snapshot.loads
    cycling = {k.id for k in kinds if k.how == "cycles"}
    last = "abcdefgh"[MOST_MARKS]
    named = sorted(parts.named, key=lambda p: (p.mark == last, p.load not in cycling))
    stack = [p for p in (parts.standing, *named, *parts.unnamed) if p is not None]
    claimed: dict[str, Part] = {key: p for p in stack for key in p.keys}
    for kind in kinds:
        of_name = next((p for p in named if kind.name and p.name == kind.name), None)
        if of_name is not None:
            claimed.setdefault(kind.id, of_name)
    if parts.unexplained is not None:
        stack.append(parts.unexplained)
    keys: dict[Part, list[str]] = {p: [] for p in stack}
    for key in account.watts:
        part = claimed.get(key, parts.unexplained)
        if key != MADE and part is not None:
            keys[part].append(key)
    return [(p, tuple(keys[p])) for p in stack]


def thin(account: Account, keys: Sequence[str], every: int) -> list[float]:
    """Means over so many steps each, of what those keys took together; NaN where nothing was heard, 0
    where the account has no such key."""
    series = [account.watts[k] for k in keys if k in account.watts]
    whole = account.watts.get(UNEXPLAINED) or max(account.watts.values(), key=len, default=())
    if not series:
        series = [tuple(0.0 if known(v) else NAN for v in whole)]
    means = []
    for start in range(0, len(whole), every):
        parts = [[v for v in s[start : start + every] if v == v] for s in series]
        means.append(sum(sum(p) / len(p) for p in parts) if all(parts) else NAN)
    return means


def _band(p: Part, below: Sequence[float], above: Sequence[float], top: float, step: float) -> Band:
    path = staircase(below, above, top, step)
    return Band(p.pattern, path, _label(p, below, above, top, step))


def staircase(below: Sequence[float], above: Sequence[float], top: float, step: float) -> str:
    """The area between two lines that go in steps, in a unit square with `top` at its upper edge: one piece
    for each stretch where they differ."""
    pieces = []
    for first, end in _stretches(below, above):
        upper = _levels(above, first, end, top)
        lower = _levels(below, first, end, top)
        out = [f"M{_at(first * step)} {upper[0][1]}"]
        out += _run(upper, end, step)
        out.append(f"V{lower[-1][1]}")
        for (start, _), (_, before) in zip(reversed(lower[1:]), reversed(lower[:-1]), strict=True):
            out.append(f"H{_at(start * step)}V{before}")
        pieces.append("".join(out) + f"H{_at(first * step)}Z")
    return "".join(pieces)


def _run(levels: list[tuple[int, str]], end: int, step: float) -> Iterator[str]:
    for start, y in levels[1:]:
        yield f"H{_at(start * step)}V{y}"
    yield f"H{_at(end * step)}"


def _levels(line: Sequence[float], first: int, end: int, top: float) -> list[tuple[int, str]]:
    """Where each level begins and how high it is drawn."""
    levels: list[tuple[int, str]] = []
    for i in range(first, end):
        y = _at(1 - min(1.0, max(0.0, line[i] / top)))
        if not levels or levels[-1][1] != y:
            levels.append((i, y))
    return levels


def _stretches(below: Sequence[float], above: Sequence[float]) -> Iterator[tuple[int, int]]:
    start = None
    for i, (low, high) in enumerate(zip(below, above, strict=True)):
        drawn = high - low > 0.3
        if drawn and start is None:
            start = i
        elif not drawn and start is not None:
            yield start, i
            start = None
    if start is not None:
        yield start, len(above)


def _at(value: float) -> str:
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return text.removeprefix("0") if text.startswith("0.") else text or "0"


def _label(
    p: Part, below: Sequence[float], above: Sequence[float], top: float, step: float
) -> Label | None:  # fmt: skip
    """The name, or else the letter, where the band is widest and high enough to hold it."""
    best: tuple[float, float, float] | None = None
    for first, end in _stretches(below, above):
        middle = (first + end) // 2
        low, high = min(top, below[middle]), min(top, above[middle])
        room = (end - first) * step * WIDTH
        tall = (high - low) / top * HEIGHT
        clear = (middle + 0.5) * step > SCALE_X
        if clear and tall >= TALL and room >= LETTER and (best is None or room > best[0]):
            best = (room, (middle + 0.5) * step, 1 - (low + high) / 2 / top)
    if best is None:
        return None
    fits = p.name and best[0] > 2 * LETTER * (len(p.name) + 2)
    return Label(best[1], best[2], f"{p.mark} {p.name}" if fits else p.mark)


def _apart(drawn: Sequence[Band]) -> Iterator[Band]:
    """Of labels that would touch each other the lower one stays."""
    kept: list[Label] = []
    for band in drawn:
        label = band.label
        if label is not None and any(
            abs(label.x - k.x) * WIDTH < LETTER * max(2, len(k.text) / 2)
            and abs(label.y - k.y) * HEIGHT < TALL
            for k in kept
        ):
            yield replace(band, label=None)
            continue
        if label is not None:
            kept.append(label)
        yield band


def _gaps(total: Sequence[float], step: float) -> tuple[tuple[float, float], ...]:
    found = []
    for unheard, group in groupby(enumerate(total), key=lambda pair: not known(pair[1])):
        if unheard:
            places = [i for i, _ in group]
            found.append((places[0] * step, len(places) * step))
    return tuple(found)


def _nice(value: float) -> float:
    """The next round reach above."""
    n = bisect_right(NICE_W, max(value, 0.0) * 0.999)
    if n >= len(NICE_W):
        return value
    lower = NICE_W[max(0, n - 1)]
    return next((float(lower * k) for k in (1, 1.5, 2) if lower * k >= value), float(NICE_W[n]))


def _rules(top: float) -> Iterator[float]:
    """Two to four ruled lines below the top."""
    every = next((w for w in NICE_W if top / w <= 4), NICE_W[-1])
    level = float(every)
    while level < top * 0.97:
        yield level
        level += every


def _every_s(span_s: float) -> float:
    return next((s for s in (HOUR_S, 3 * HOUR_S, 12 * HOUR_S) if span_s / s <= 8), float(DAY_S))
