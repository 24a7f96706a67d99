"""Last night explained, and any other span of the record in the same words."""

from dataclasses import dataclass, replace

from monitor.clock import DAY_S, Interval
from monitor.estimation.ledger import STANDING
from monitor.records import Account, NightLedger
from monitor.words.units import clock_time
from monitor.words.units import date as told_date
from web.presentation.bands import Bands, bands
from web.presentation.figures import Reader
from web.presentation.night_ledger import Ledger, ledger, unit_of
from web.presentation.night_parts import by_names_now, parts_of
from web.presentation.night_words import engine_hours, first_of_night, first_of_span, more
from web.presentation.nights_before import SHOWN, Before, Cost, before, costs, under_way
from web.presentation.spans import by_clock, completed, engine_runs, told_span
from web.presentation.strips import Strip, strip
from web.watch import Record

NO_FORM = ("", "")
TOLD_APART_S = 2 * DAY_S
"""In a longer span loads are not told apart."""


@dataclass(frozen=True, slots=True)
class Night:
    title: str
    first: str
    more: tuple[str, ...] = ()
    bands: Bands | None = None
    net: Strip | None = None
    no_strip: str = ""
    caption: str = ""
    ledger: Ledger | None = None
    exact: str = ""
    engine: tuple[str, ...] = ()
    before: tuple[Before, ...] = ()
    costs: tuple[Cost, ...] = ()
    costs_note: str = ""
    unit: str = "Wh"
    """What the columns count in."""
    form: tuple[str, str] = NO_FORM
    """From and to, as the form of any span is filled in."""
    files: str = ""
    """The address of the downloads, but for their ending; empty where there is nothing to download."""


def night(
    reader: Reader, found: NightLedger | None, account: Account | None, record: Record | None, files: str
) -> Night:
    """A night by the loads known now; `files` is where it can be downloaded from."""
    if found is None:
        return Night("", reader.say("no night yet"))
    kinds = reader.snapshot.loads
    n = by_names_now(completed(account, found), kinds)
    if under_way(reader, n):
        n = replace(n, usual=None, changed=())
    earlier = (by_names_now(b, kinds) for b in reader.snapshot.nights[-SHOWN:])
    nights = [n if b.start_s == n.start_s else b for b in earlier]
    dusk, dawn = (clock_time(t, reader.dress) for t in (n.start_s, n.end_s))
    told = _told(reader, n, account, record, files, night=True)
    return replace(
        told,
        title=reader.word(
            "The night of {date}, {dusk} to {dawn}",
            date=told_date(n.start_s, reader.dress),
            dusk=dusk,
            dawn=dawn,
        ),
        first=first_of_night(reader, n, parts_of(n)),
        before=before(reader, nights, n),
        costs=costs(reader, nights),
        costs_note=reader.say("costs from", nights=sum(not under_way(reader, b) for b in nights)),
    )


def any_span(
    reader: Reader, account: Account, record: Record | None, files: str, title: str = "{span}", note: str = ""
) -> Night:
    """Any span; `title` has a gap for its times, `note` before all but the first sentence."""
    n = account.ledger
    apart = STANDING in account.watts or n.end_s - n.start_s < TOLD_APART_S
    told = _told(reader, n, account, record, files, night=False, apart=apart)
    note += "" if apart else f" {reader.say('span: not told apart')}"
    return replace(
        told,
        title=reader.word(title, span=told_span(reader, Interval(n.start_s, n.end_s))),
        first=first_of_span(reader, n, parts_of(n, told_apart=apart)),
        more=(note.strip(), *told.more) if note else told.more,
    )


def trouble(said: str, form: tuple[str, str] = NO_FORM) -> Night:
    """No span can be told: why, and the form to ask for another."""
    return Night("", said, form=form)


def _told(
    reader: Reader,
    n: NightLedger,
    account: Account | None,
    record: Record | None,
    files: str,
    *,
    night: bool,
    apart: bool = True,
) -> Night:
    parts, now_s = parts_of(n, told_apart=apart), reader.snapshot.utc_s
    drawn = bands(reader, account, parts) if account is not None else None
    net = strip(reader, n, record) if drawn is None else None
    runs = engine_runs(record, n, n.end_s if now_s is None else now_s) if n.made_by else {}
    return Night(
        title="",
        first="",
        more=more(reader, n, night=night),
        bands=drawn,
        net=net,
        caption=reader.say("strip by load" if drawn else "strip net"),
        no_strip="" if drawn or net else reader.say("no record"),
        ledger=ledger(reader, n, parts, night=night),
        exact=_exact(reader),
        unit=unit_of(reader.dress)[1],
        engine=engine_hours(reader, n, runs),
        form=(by_clock(reader, n.start_s), by_clock(reader, n.end_s)),
        files=files,
    )


def _exact(reader: Reader) -> str:
    if reader.dress.energy != "Ah":
        return reader.say("ledger: exact")
    return reader.word("Lines add up to what stands under them, to the ampere-hour.")
