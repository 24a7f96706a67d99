"""The last seven days: what each source made, and what was used, day by day."""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.clock import Interval
from monitor.records import Account, NightLedger
from monitor.words.units import UNKNOWN
from monitor.words.units import date as told_date
from web.presentation.figures import Reader
from web.presentation.night_ledger import energy, signed, whole
from web.presentation.night_parts import apportioned
from web.presentation.spans import by_clock


@dataclass(frozen=True, slots=True)
class Day:
    """`bars` are x and width of what each source made, as a share of the most of any day; `used_x` is how
    far what was used reaches."""

    name: str
    href: str
    figures: tuple[str, ...]
    made: str
    used: str
    net: str
    bars: tuple[tuple[float, float, str], ...]
    used_x: float


@dataclass(frozen=True, slots=True)
class Week:
    title: str
    first: str
    sources: tuple[tuple[str, str], ...]
    """Each source and its pattern."""
    days: tuple[Day, ...]
    total: Day | None


def week(reader: Reader, accounts: Sequence[tuple[Interval, Account | None]]) -> Week:
    """Over the days by the ship's clock, the newest first."""
    heard = [(d, a.ledger) for d, a in accounts if a is not None and a.ledger.used_Wh is not None]
    title = "The week by source"
    if not heard:
        return Week(title, reader.say("week: nothing"), (), (), None)
    names = list(dict.fromkeys(s.what for _, n in heard for s in n.made_by))
    rest = reader.say("ledger: unmetered")
    rows = [(during, n, _by_source(n, names)) for during, n in heard]
    if any(by[-1] for _, _, by in rows):
        names.append(rest)
    rows = [(during, n, by[: len(names)]) for during, n, by in rows]
    most = max((max(sum(by), round(n.used_Wh or 0)) for _, n, by in rows), default=0) or 1
    days = tuple(_day(reader, during, n, by, most) for during, n, by in reversed(rows))
    sums = [sum(by[i] for _, _, by in rows) for i in range(len(names))]
    used = sum(round(n.used_Wh or 0) for _, n, _ in rows)
    total = Day(
        "", "", tuple(map(whole, sums)), whole(sum(sums)), whole(used), signed(sum(sums) - used), (), 0
    )
    deaf = [told_date(d.start_s, reader.dress) for d, a in accounts if a is None]
    net = energy(sum(sums) - used)
    said = reader.say(
        "week: made",
        made=energy(sum(sums)),
        used=energy(used),
        days=len(rows),
        net=net if sum(sums) < used else f"+{net}",
    )
    if deaf:
        said += " " + reader.say("week: unheard", days=", ".join(deaf))
    patterns = tuple((name, f"load-{min(i, 7)}") for i, name in enumerate(names))
    return Week(title, said, patterns, days, total)


def _by_source(n: NightLedger, names: Sequence[str]) -> list[int]:
    """Whole watt-hours by source, and what no meter saw; they add up to what was made."""
    each = [sum(s.Wh for s in n.made_by if s.what == name) for name in names]
    made_Wh = sum(each) if n.made_Wh is None else n.made_Wh
    return apportioned(made_Wh, [*each, made_Wh - sum(each)])[1]


def _day(reader: Reader, during: Interval, n: NightLedger, by: Sequence[int], most: int) -> Day:
    used = round(n.used_Wh or 0)
    bars, x = [], 0.0
    for i, Wh in enumerate(by):
        if Wh > 0:
            bars.append((x, Wh / most, f"load-{min(i, 7)}"))
            x += Wh / most
    start, end = by_clock(reader, during.start_s), by_clock(reader, during.end_s)
    return Day(
        name=told_date(during.start_s, reader.dress),
        href=f"/night?from={start}&to={end}",
        figures=tuple(map(whole, by)),
        made=UNKNOWN if n.made_Wh is None else whole(sum(by)),
        used=whole(used),
        net=UNKNOWN if n.made_Wh is None else signed(sum(by) - used),
        bars=tuple(bars),
        used_x=used / most,
    )
