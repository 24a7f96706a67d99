"""The last seven days: what each source made, and what was used, day by day."""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.clock import Interval
from monitor.records import Account, NightLedger
from monitor.words.units import date as told_date
from monitor.words.units import unknown
from web.presentation.figures import Reader
from web.presentation.night_ledger import energy, signed, unit_of, whole
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
    unit: str
    sources: tuple[tuple[str, str], ...]
    """Each source and its pattern."""
    days: tuple[Day, ...]
    total: Day | None


def week(reader: Reader, accounts: Sequence[tuple[Interval, Account | None]]) -> Week:
    """Over the days by the ship's clock, the newest first."""
    heard = [(d, a.ledger) for d, a in accounts if a is not None and a.ledger.used_Wh is not None]
    title, dress = reader.word("The week by source"), reader.dress
    unit_Wh, unit = unit_of(dress)
    if not heard:
        return Week(title, reader.say("week: nothing"), unit, (), (), None)
    names = list(dict.fromkeys(s.what for _, n in heard for s in n.made_by))
    rest = reader.say("ledger: unmetered")
    rows = [(during, n, _by_source(n, names, unit_Wh)) for during, n in heard]
    if any(by[-1] for _, _, by in rows):
        names.append(rest)
    rows = [(during, n, by[: len(names)]) for during, n, by in rows]
    most = max((max(sum(by), round((n.used_Wh or 0) / unit_Wh)) for _, n, by in rows), default=0) or 1
    days = tuple(_day(reader, during, n, by, most) for during, n, by in reversed(rows))
    sums = [sum(by[i] for _, _, by in rows) for i in range(len(names))]
    used = sum(round((n.used_Wh or 0) / unit_Wh) for _, n, _ in rows)
    made, net = sum(sums), sum(sums) - used
    figures = tuple(whole(value, dress) for value in sums)
    total = Day("", "", figures, whole(made, dress), whole(used, dress), signed(net, dress), (), 0)
    deaf = [told_date(d.start_s, reader.dress) for d, a in accounts if a is None]
    told_net = energy(net * unit_Wh, dress)
    said = reader.say(
        "week: made",
        made=energy(made * unit_Wh, dress),
        used=energy(used * unit_Wh, dress),
        days=len(rows),
        net=told_net if net < 0 else f"+{told_net}",
    )
    if deaf:
        said += " " + reader.say("week: unheard", days=", ".join(deaf))
    patterns = tuple((name, f"load-{min(i, 7)}") for i, name in enumerate(names))
    return Week(title, said, unit, patterns, days, total)


def _by_source(n: NightLedger, names: Sequence[str], unit_Wh: float) -> list[int]:
    """Whole units by source, and what no meter saw; they add up to what was made."""
    each = [sum(s.Wh for s in n.made_by if s.what == name) for name in names]
    made_Wh = sum(each) if n.made_Wh is None else n.made_Wh
    return apportioned(made_Wh, [*each, made_Wh - sum(each)], unit_Wh)[1]


def _day(reader: Reader, during: Interval, n: NightLedger, by: Sequence[int], most: int) -> Day:
    dress = reader.dress
    used = round((n.used_Wh or 0) / unit_of(dress)[0])
    bars, x = [], 0.0
    for i, Wh in enumerate(by):
        if Wh > 0:
            bars.append((x, Wh / most, f"load-{min(i, 7)}"))
            x += Wh / most
    start, end = by_clock(reader, during.start_s), by_clock(reader, during.end_s)
    return Day(
        name=told_date(during.start_s, reader.dress),
        href=f"/night?from={start}&to={end}",
        figures=tuple(whole(value, dress) for value in by),
        made=unknown(dress) if n.made_Wh is None else whole(sum(by), dress),
        used=whole(used, dress),
        net=unknown(dress) if n.made_Wh is None else signed(sum(by) - used, dress),
        bars=tuple(bars),
        used_x=used / most,
    )
