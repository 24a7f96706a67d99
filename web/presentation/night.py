"""Last night explained, and every night in the ledger by its date."""

from dataclasses import dataclass
from datetime import UTC, date, datetime

from monitor.records import NightLedger
from monitor.words.units import UNKNOWN, clock_time, litres, pct, span, volts, wh
from monitor.words.units import date as told_date
from web.presentation.ahead import house
from web.presentation.figures import Reader
from web.presentation.strips import SmallStrips, Strip, strip
from web.watch import Record

SHOWN = 14
"""How many nights stand in the list."""


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the ledger."""

    label: str
    text: str
    note: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Before:
    """One of the nights before, small."""

    day: str
    href: str
    here: bool
    used: str
    water: str
    drawn: str
    lowest: str


@dataclass(frozen=True, slots=True)
class Night:
    title: str
    sentences: tuple[str, ...]
    strip: Strip | None
    no_strip: str
    lines: tuple[Line, ...]
    before: tuple[Before, ...]


def night_date(ledger: NightLedger, reader: Reader) -> date:
    """A night bears the date of its dusk by the ship's clock."""
    return datetime.fromtimestamp(ledger.start_s, UTC).astimezone(reader.dress.zone).date()


def find(reader: Reader, wanted: date | None) -> NightLedger | None:
    """The night of that date; without one the last that has ended, or else the one under way."""
    nights = reader.snapshot.nights
    if wanted is not None:
        return next((n for n in nights if night_date(n, reader) == wanted), None)
    now_s = reader.snapshot.utc_s
    ended = [n for n in nights if now_s is None or n.end_s <= now_s]
    return ended[-1] if ended else nights[-1] if nights else None


def night(reader: Reader, ledger: NightLedger | None, record: Record | None, small: SmallStrips) -> Night:
    if ledger is None:
        return Night("Night", (reader.say("no night yet"),), None, "", (), ())
    drawn = strip(reader, ledger, record)
    dusk, dawn = (clock_time(t, reader.dress) for t in (ledger.start_s, ledger.end_s))
    return Night(
        title=f"The night of {told_date(ledger.start_s, reader.dress)}, {dusk} to {dawn}",
        sentences=_sentences(reader, ledger),
        strip=drawn,
        no_strip="" if drawn else reader.say("no record"),
        lines=_lines(reader, ledger),
        before=_before(reader, ledger, small.areas(reader, reader.snapshot.nights[-SHOWN:], record)),
    )


def _sentences(reader: Reader, n: NightLedger) -> tuple[str, ...]:
    bank = house(reader)
    name = bank.name if bank else "house"
    say = reader.say
    said = []
    if reader.snapshot.utc_s is not None and n.end_s > reader.snapshot.utc_s:
        said.append(say("night under way"))
    if n.used_Wh is None:
        said.append(say("night use unknown"))
    elif n.made_Wh:
        said.append(say("night used and made", used=n.used_Wh, made=n.made_Wh))
    else:
        said.append(say("night used", used=n.used_Wh))
    if n.dusk_pct is not None and n.dawn_pct is not None:
        said.append(say("night charge", bank=name, dusk=n.dusk_pct, dawn=n.dawn_pct))
    elif bank is not None and bank.chemistry == "lifepo4":
        said.append(say("night charge unknown"))
    if name in n.lowest_V:
        said.append(say("night lowest", lowest=n.lowest_V[name], bank=name))
    if n.water_L is not None:
        said.append(say("night water", water=n.water_L))
    if n.pump_starts is not None:
        ids = {0: "night pump never", 1: "night pump once"}
        said.append(say(ids.get(n.pump_starts, "night pump"), starts=n.pump_starts))
    if n.missing_s >= 300:
        said.append(say("night missing", missing=n.missing_s))
    if n.made_estimated:
        said.append(say("night made estimated"))
    return tuple(said)


def _lines(reader: Reader, n: NightLedger) -> tuple[Line, ...]:
    dress = reader.dress

    def energy(value: float | None) -> str:
        return UNKNOWN if value is None else wh(value, dress)

    lines = []
    for share in n.by:
        runs = ""
        if share.runs:
            runs = ", ".join(f"{clock_time(a, dress)}–{clock_time(b, dress)}" for a, b in share.runs[:6])
            runs += " …" if len(share.runs) > 6 else ""
        sure = pct(100 * share.confidence, dress) + " sure"
        lines.append(Line(share.what, wh(share.Wh, dress), f"{sure} {runs}".strip()))
    lines += [
        Line("unexplained", energy(n.unexplained_Wh), "what no pattern accounts for"),
        Line("used in all", energy(n.used_Wh), "", strong=True),
        Line("made", energy(n.made_Wh), "estimated" if n.made_estimated else ""),
        Line("net", energy(n.net_Wh), "made minus used", strong=True),
        Line("charge at dusk", UNKNOWN if n.dusk_pct is None else pct(n.dusk_pct, dress), ""),
        Line("charge at dawn", UNKNOWN if n.dawn_pct is None else pct(n.dawn_pct, dress), ""),
    ]
    lines += [Line(f"lowest, {bank} bank", volts(v, dress), "") for bank, v in n.lowest_V.items()]
    lines += [
        Line("fresh water", UNKNOWN if n.water_L is None else litres(n.water_L, dress), ""),
        Line("pump starts", UNKNOWN if n.pump_starts is None else str(n.pump_starts), ""),
    ]
    if n.missing_s >= 60:
        lines.append(Line("not heard", span(n.missing_s, dress), "of the house bank"))
    return tuple(lines)


def _before(reader: Reader, here: NightLedger, areas: list[str]) -> tuple[Before, ...]:
    nights = reader.snapshot.nights[-SHOWN:]
    bank = house(reader)
    rows = []
    for n, drawn in zip(reversed(nights), reversed(areas), strict=True):
        lowest = n.lowest_V.get(bank.name) if bank else None
        rows.append(
            Before(
                day=told_date(n.start_s, reader.dress),
                href=f"/night/{night_date(n, reader):%Y-%m-%d}",
                here=n is here,
                used=UNKNOWN if n.used_Wh is None else wh(n.used_Wh, reader.dress),
                water=UNKNOWN if n.water_L is None else litres(n.water_L, reader.dress),
                drawn=drawn,
                lowest="" if lowest is None else volts(lowest, reader.dress),
            )
        )
    return tuple(rows)
