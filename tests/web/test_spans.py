"""Which span is asked for, and what of it can be downloaded."""

import csv
import io
import json
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

import pytest
from fastapi.testclient import TestClient

from monitor.clock import DAY_S, HOUR_S, Interval
from monitor.records import Account, Event, EventKind
from tests.web.canned import NIGHTS, NOW_S, CannedRecord, CannedWatch, canned
from tests.web.conftest import ClientOf
from tests.web.test_pages import text_of
from web.presentation.figures import reader_of
from web.presentation.spans import Accounts, SpanError, asked, days

WITHOUT = "/night?from={}&to={}"


def test_an_autumn_day_has_25_hours() -> None:
    """Clocks go back on the last Sunday of October (Directive 2000/84/EC): 25 Oct 2026 in Spain."""
    reader = reader_of(canned("well"))
    assert asked(reader, "2026-10-25T00:00", "2026-10-26T00:00").seconds == 25 * HOUR_S
    assert asked(reader, "2026-10-25", "2026-10-26").seconds == 25 * HOUR_S
    # 15:00 by the clock of Spain in winter is 14:00 UTC: NOW_S is Wed 25 Nov 14:21 UTC.
    assert asked(reader, "2026-11-25T15:00", "2026-11-25T15:30") == (NOW_S - 1260, NOW_S)


@pytest.mark.parametrize(
    ("start", "end", "why"),
    [
        ("now", "2026-11-20T10:00", 'From: expected a date and time like 2026-11-20T18:00, got "now"'),
        ("2026-11-20T10:00", "2026-13-20T10:00", "To: expected a date and time"),
        ("0001-01-01T00:00", "2026-11-20T10:00", "From: expected"),
        ("2026-11-20T10:00", "", "A span needs both"),
        ("2026-11-20T10:00", "2026-11-20T10:00", "The span ends before it begins"),
        ("2027-01-01T10:00", "2027-01-02T10:00", "The span begins in the future: it is Wed 15:21 now."),
        ("2026-01-01T10:00", "2026-11-20T10:00", "at most 31 days can be told at once"),
    ],
)
def test_a_wrong_span_is_refused_in_words_and_may_be_mended(
    start: str, end: str, why: str, client: TestClient
) -> None:
    """422; what was asked for stands in the form; the file says the same in plain text."""
    with pytest.raises(SpanError, match=r"[A-Z]"):
        asked(reader_of(canned("well")), start, end)
    answer = client.get("/night", params={"from": start, "to": end})
    assert answer.status_code == 422
    assert why in text_of(client, f"/night?from={start}&to={end}").replace("\u00a0", " ")
    assert f'value="{start}"' in answer.text
    file = client.get("/night.csv", params={"from": start, "to": end})
    assert file.status_code == 422
    assert why in file.text.replace("\u00a0", " ")


def test_a_span_of_which_nothing_was_heard_is_said(client: TestClient) -> None:
    text = text_of(client, WITHOUT.format("2026-09-01T10:00", "2026-09-02T10:00"))
    assert "Nothing was heard of the house bank in this span" in text
    assert client.get("/night.json?from=2026-09-01T10:00&to=2026-09-02T10:00").status_code == 404


def test_a_long_span_does_not_call_its_loads_unexplained(
    client_of: ClientOf, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Beyond two days an account has sums only."""

    whole = CannedWatch.account

    def summed(watch: CannedWatch, during: Interval) -> Account | None:
        told = whole(watch, during)
        assert told is not None
        watts = {key: told.watts[key] for key in ("unexplained", "made")}
        return Account(replace(told.ledger, by=()), told.step_s, watts)

    monkeypatch.setattr(CannedWatch, "account", summed)
    text = text_of(client_of(canned("well")), WITHOUT.format("2026-11-20T10:00", "2026-11-24T10:00"))
    assert "In so long a span the loads are not told apart" in text
    assert "explained" not in text.partition("In so long")[0]
    assert "not told apart 6" in text


@dataclass
class Moves(CannedRecord):
    """What the crew said of itself: (seconds before now, people)."""

    said: list[tuple[float, str]] = field(default_factory=list)

    def events(self, kind: Any, during: Interval) -> Any:
        if kind != EventKind.MODE:
            return super().events(kind, during)
        return [
            (Event(kind, "boat", 1, 0.0, None, {"place": "at anchor", "people": people}), NOW_S - ago_s, None)
            for ago_s, people in self.said
        ]


def away_text(client_of: ClientOf, *moves: tuple[float, str]) -> str:
    watch = canned("well")
    watch.record = Moves(said=list(moves))
    return text_of(client_of(watch), "/night/away").replace("\u00a0", " ")


def test_while_you_were_away_goes_from_leaving_to_the_return(client_of: ClientOf) -> None:
    """The last time of two; a change of place while away is no return. NOW_S is Wed 25 Nov 15:21."""
    text = away_text(
        client_of, (9 * DAY_S, "away"), (8 * DAY_S, "awake"), (5 * DAY_S, "away"), (4 * DAY_S, "away"),
        (3 * DAY_S, "awake"), (2 * DAY_S, "asleep"),
    )  # fmt: skip
    assert "While you were away, Fri 20 Nov 15:21 to Sun 22 Nov 15:21" in text


def test_who_is_still_away_and_who_never_was(client_of: ClientOf) -> None:
    still = away_text(client_of, (1 * DAY_S, "away"))
    assert "You have been away since Tue 15:21: this is what stands so far." in still
    assert "to Wed 25 Nov 15:21" in still
    assert "Nobody has been away" in away_text(client_of, (1 * DAY_S, "awake"))
    long = away_text(client_of, (35 * DAY_S, "away"), (1 * DAY_S, "awake"))
    assert "You were away 34 days: the last 31 days of it are told." in long


def test_the_week_has_a_line_a_day_and_adds_up(client: TestClient) -> None:
    """Seven days by the ship's clock, today as far as it has come; each source's column has its sum."""
    reader = reader_of(canned("well"))
    spans = days(reader, NOW_S)
    assert [s.seconds for s in spans[:-1]] == [DAY_S] * 6
    assert spans[-1].seconds == (15 * 60 + 21) * 60
    html = client.get("/night/week").text
    figures = [[int(f) for f in row] for row in _week_rows(html)]
    assert len(figures) == 8
    assert [sum(column) for column in zip(*figures[:-1], strict=True)] == figures[-1]
    for panels, alternator, made, used, net in figures:
        assert panels + alternator == made
        assert made - used == net


def _week_rows(html: str) -> list[list[str]]:
    table = html.partition('<table class="week">')[2].partition("</table>")[0]
    rows = []
    for row in table.split("<tr")[2:]:
        cells = row.split('<td class="figure">')[1:]
        rows.append([c.partition("</td>")[0].replace("−", "-") for c in cells])
    return rows


def test_the_night_as_csv_and_json_tells_the_same(client: TestClient) -> None:
    """RFC 4180 lines; the sum of the decimals is exact in both."""
    answer = client.get("/night/2026-11-24.csv")
    assert answer.headers["content-type"].startswith("text/csv")
    assert 'filename="night-2026-11-24.csv"' in answer.headers["content-disposition"]
    lines = list(csv.DictReader(io.StringIO(answer.text)))
    told = json.loads(client.get("/night/2026-11-24.json").text, parse_float=Decimal)
    assert [line["kind"] for line in lines] == [line["kind"] for line in told["lines"]]
    for found in (lines, told["lines"]):
        sums: dict[str, Decimal] = {}
        for line in found:
            sums[line["kind"]] = sums.get(line["kind"], Decimal(0)) + Decimal(line["energy_Wh"])
        assert sums["named"] + sums["standing"] + sums["unexplained"] == sums["used"]
        assert sums["source"] + sums["unmetered"] == sums["made"]
    assert told["begin_utc"] == "2026-11-24T17:03:00Z"
    assert client.get("/night/2026-01-01.csv").status_code == 404
    assert client.get("/night/2026-11-24.xml").status_code == 422


def test_a_name_is_no_formula_in_a_spreadsheet(client_of: ClientOf) -> None:
    watch = canned("well")
    night = watch.snapshot.nights[-1]
    named = tuple(replace(s, what="=1+1") if s.what == "freezer" else s for s in night.by)
    watch.snapshot = replace(watch.snapshot, nights=(replace(night, by=named),))
    assert ",'=1+1," in client_of(watch).get("/night/2026-11-24.csv").text


@dataclass
class Counting(CannedWatch):
    spans: list[Interval] = field(default_factory=list)

    def account(self, during: Interval) -> Account | None:
        self.spans.append(during)
        return super().account(during)


def test_a_span_that_is_over_is_explained_once_until_a_load_is_named() -> None:
    """Every open page asks again each second; a name changes all nights."""
    well = canned("well")
    watch = Counting(well.snapshot, well.settings)
    kept, night = Accounts(), Interval(*NIGHTS[13])
    for _ in range(3):
        kept.of(watch, reader_of(watch), night)
    assert len(watch.spans) == 1
    first, *others = watch.snapshot.loads
    watch.snapshot = replace(watch.snapshot, loads=(replace(first, name="stove"), *others))
    kept.of(watch, reader_of(watch), night)
    assert len(watch.spans) == 2


def test_a_span_under_way_is_explained_once_a_minute_and_up_to_now() -> None:
    well = canned("well")
    watch = Counting(well.snapshot, well.settings)
    kept, under_way = Accounts(), Interval(NOW_S - HOUR_S, NOW_S + HOUR_S)
    for _ in range(3):
        kept.of(watch, reader_of(watch), under_way)
    assert watch.spans == [Interval(NOW_S - HOUR_S, NOW_S)]
    watch.snapshot = replace(watch.snapshot, utc_s=NOW_S + 60)
    kept.of(watch, reader_of(watch), under_way)
    assert len(watch.spans) == 2
