"""What can be asked of the Log: kinds, subject, span, words; pages of it; files; and what is no question.

Ship's time is Europe/Madrid in winter, an hour ahead of UTC (IANA tz database).
"""

import csv
import io
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import pytest
from fastapi.testclient import TestClient

from monitor.clock import DAY_S, HOUR_S, MINUTE_S, Interval
from monitor.records import AlertChange, Event, EventKind, Reason, Severity
from tests.web.canned import NOW_S, CannedRecord, CannedWatch, canned
from tests.web.conftest import ClientOf
from tests.web.test_pages import Words
from web.presentation.log_words import folded

MIDNIGHT_S = 1_795_561_200.0
"""Wed 25 Nov 2026 00:00 by the ship's clock, 23:00 UTC the day before."""
OWN = {"Origin": "http://127.0.0.1:8080"}


@dataclass
class Many(CannedRecord):
    """Events of one boot that began at 0 s of UTC, and alerts; only those of the span are handed out."""

    rows: Sequence[Event] = ()
    changes: Sequence[AlertChange] = ()
    asked: list[Interval] = field(default_factory=list)

    def events(self, kind: Any, during: Interval) -> Sequence[tuple[Event, float | None, float | None]]:
        self.asked.append(during)
        return [
            (e, e.start_s, e.end_s)
            for e in self.rows
            if kind in (None, e.kind)
            and e.start_s < during.end_s
            and (e.end_s or e.start_s) >= during.start_s
        ]

    def alert_changes(self, during: Interval | None = None) -> Sequence[tuple[AlertChange, float | None]]:
        assert during is not None
        return [(c, c.at_s) for c in self.changes if during.start_s <= c.at_s < during.end_s]


def note(at_s: float, text: str) -> Event:
    return Event(EventKind.NOTE, "crew", 1, at_s, None, {"text": text})


def client_on(client_of: ClientOf, record: CannedRecord) -> TestClient:
    watch = canned()
    return client_of(CannedWatch(watch.snapshot, watch.settings, record))


def text_of(client: TestClient, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text
    return Words(answer.text).text


SOME = Many(
    [
        note(NOW_S - HOUR_S, "Café con leche en el muelle"),
        note(NOW_S - 20 * DAY_S, "Moved to the outer mooring"),
        note(NOW_S - 400 * DAY_S, "First night aboard"),
        Event(EventKind.FULL, "house", 1, NOW_S - 2 * HOUR_S, None, {"offset_A": 0.25}),
        Event(EventKind.FILL, "forward", 1, NOW_S - 3 * HOUR_S, NOW_S - 2.5 * HOUR_S, {"litres": 40.0}),
        Event(EventKind.JOB, "washing down", 1, NOW_S - 5 * HOUR_S, NOW_S - 4 * HOUR_S),
    ],
    [
        AlertChange(
            "a", "low charge", "house", Severity.WARNING, 1, NOW_S - 4 * HOUR_S, "active",
            Reason("low charge: told"),
        )
    ],
)  # fmt: skip


def test_several_kinds_at_once(client_of: ClientOf) -> None:
    text = text_of(client_on(client_of, SOME), "/log?kind=note&kind=full+charge")
    assert "Café con leche" in text
    assert "Full charge, house sensor off by 0.2" in text or "Full charge, house sensor off by 0.3" in text
    assert "Tank filled, forward" not in text
    assert "Only: Note, Full charge." in text


def test_by_subject(client_of: ClientOf) -> None:
    text = text_of(client_on(client_of, SOME), "/log?about=house")
    assert "Full charge, house" in text
    assert "Warning: Charge low (house)" in text
    assert "Café" not in text


@pytest.mark.parametrize(
    ("query", "told", "not_told"),
    [
        ("", ("Café",), ("Moved", "First night aboard")),
        ("span=month", ("Café", "Moved"), ("First night aboard",)),
        ("span=all", ("Café", "Moved", "First night aboard"), ()),
        ("span=own&from=2026-11-01&to=2026-11-10", ("Moved",), ("Café", "First night aboard")),
        ("span=own&to=2026-01-01", ("First night aboard",), ("Café", "Moved")),
        ("was=week&span=week&from=2026-11-01&to=2026-11-10", ("Moved",), ("Café",)),
        ("was=own&span=week&from=2026-11-01&to=2026-11-10", ("Café",), ("Moved",)),
    ],
)  # fmt: skip
def test_by_span(query: str, told: Sequence[str], not_told: Sequence[str], client_of: ClientOf) -> None:
    """Now is Wed 25 Nov 2026; twenty days before is the 5th."""
    text = text_of(client_on(client_of, SOME), f"/log?{query}")
    assert [words for words in told if words not in text] == []
    assert [words for words in not_told if words in text] == []


def test_from_and_to_are_ships_time_and_a_minute_counts_whole(client_of: ClientOf) -> None:
    """23:00 UTC is midnight aboard."""
    record = Many(
        [note(MIDNIGHT_S - 1, "one before"), note(MIDNIGHT_S, "midnight"), note(MIDNIGHT_S + 59, "one after")]
    )
    text = text_of(client_on(client_of, record), "/log?from=2026-11-25T00:00&to=2026-11-25T00:00")
    assert "midnight" in text
    assert "one after" in text
    assert "one before" not in text


@pytest.mark.parametrize("words", ["CAFE", "café", "Cafe\u0301 leche", "MUELLE cafe", "Nov muelle"])
def test_a_search_folds_case_and_accents_and_wants_every_word(words: str, client_of: ClientOf) -> None:
    """A combining accent (Unicode NFD) and a precomposed one are the same; the date is searched, too."""
    text = text_of(client_on(client_of, SOME), f"/log?search={words}")
    assert "Café con leche en el muelle" in text
    assert "Full charge" not in text.partition("What happened")[2]


def test_a_word_that_is_nowhere_finds_nothing_and_says_so(client_of: ClientOf) -> None:
    text = text_of(client_on(client_of, SOME), "/log?search=cafe+barnacle&span=all")
    assert "Nothing of that kind is written here." in text


def test_folding_keeps_what_is_no_accent() -> None:
    """Unicode's full case folding: sharp s is ss; a Greek final sigma is a sigma."""
    assert folded("Straße ΟΔΟΣ Ñandú") == "strasse οδοσ nandu"


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("kind=zz", "The Log has no kind “zz”. It has: Alert, Note,"),
        ("span=zz", "The Log has no span “zz”."),
        ("from=2026-02-30", "From: expected a date and time like 2026-11-20T18:00, got “2026-02-30”."),
        ("from=0001-01-01", "From: expected a date and time"),
        ("to=later", "To: expected a date and time like 2026-11-20T18:00, got “later”."),
        ("from=2026-11-20&to=2026-11-10", "The span ends before it begins: from 2026-11-20, to 2026-11-10."),
        ("from=2027-01-01", "The span begins in the future: it is Wed 15:21 now."),
        ("span=own", "A span of your own needs a from or a to."),
        ("search=" + 10_000 * "x", "Look for 200 characters at most; that were 10000."),
        ("about=" + 10_000 * "x", "Look for 200 characters at most; that were 10000."),
        ("before=zz", "There is no such place in the Log"),
        ("after=1e99~-1", "There is no such place in the Log"),
    ],
)  # fmt: skip
def test_what_cannot_be_asked_is_said(query: str, said: str, client_of: ClientOf) -> None:
    client = client_on(client_of, SOME)
    for path in ("/log", "/log.csv", "/log.json"):
        answer = client.get(f"{path}?{query}")
        if "before" in query or "after" in query:
            continue
        assert answer.status_code == 422, path
        told = Words(answer.text).text if path == "/log" else answer.text
        assert said.replace("200", "300") in told if query.startswith("about") else said in told
    answer = client.get(f"/log?{query}")
    assert answer.status_code == 422
    assert answer.text.count("<h1") == 1


def test_ten_thousand_rows_are_walked_through_page_by_page_and_back(client_of: ClientOf) -> None:
    """Each line stands on one page and in order, a thousand of the same moment among them; no page has more
    than 200; and the first page reads no more than the weeks it needs."""
    rows = [note(NOW_S - 60.0 * n, f"line {n};") for n in range(9000)]
    rows += [replace(note(NOW_S - 30.0, f"flood {n};"), subject=f"s{n}") for n in range(1000)]
    record = Many(rows)
    client = client_on(client_of, record)
    seen: list[str] = []
    path, pages = "/log?span=all", 0
    while path:
        answer = client.get(path).text
        lines = re.findall(r"<bdi>((?:line|flood) \d+;)</bdi>", answer)
        assert 0 < len(lines) <= 200
        seen += lines
        pages += 1
        found = re.search(r'href="([^"]+)" rel="next"', answer)
        last, path = path, found[1].replace("&amp;", "&") if found else ""
    assert pages == 50
    assert len(seen) == len(set(seen)) == 10_000
    assert [w for w in seen if w.startswith("line")] == [f"line {n};" for n in range(9000)]

    back = 0
    path = last
    while path:
        answer = client.get(path).text
        found = re.search(r'href="([^"]+)" rel="prev"', answer)
        path = found[1].replace("&amp;", "&") if found else ""
        back += 1
    assert back == 50
    assert "line 0;" in answer


def test_the_first_page_of_years_reads_a_week(client_of: ClientOf) -> None:
    record = Many([note(NOW_S - n * HOUR_S, f"line {n};") for n in range(20_000)])
    assert "line 199;" in text_of(client_on(client_of, record), "/log?span=all")
    assert sum(during.seconds for during in record.asked) < 22 * DAY_S


def test_pump_runs_of_one_hour_are_one_line_on_whatever_page(client_of: ClientOf) -> None:
    """Six runs an hour for 300 hours: 300 lines of six runs, 60 s in each."""
    runs = [
        Event(EventKind.PUMP_RUN, "pressure pump", 1, start_s, start_s + 10.0)
        for hour in range(300)
        for start_s in (MIDNIGHT_S - hour * HOUR_S + n * 600.0 for n in range(6))
    ]
    client = client_on(client_of, Many(runs))
    first = client.get("/log?span=all").text
    found = re.search(r'href="([^"]+)" rel="next"', first)
    assert found is not None
    second = client.get(found[1].replace("&amp;", "&")).text
    assert first.count("6 runs") == 200
    assert second.count("6 runs") == 100


def test_the_files_hold_what_the_page_shows(client_of: ClientOf) -> None:
    """RFC 4180: CRLF, a comma and a quotation mark within quotation marks; times as ISO 8601 in UTC."""
    record = Many(
        [*SOME.rows, note(NOW_S - 60, 'He said "slack,\nnow"'), note(NOW_S - 30, "=1+1")], SOME.changes
    )
    client = client_on(client_of, record)

    answer = client.get("/log.csv?kind=note&kind=alert")
    assert answer.headers["content-type"].startswith("text/csv")
    assert answer.text.count("\r\n") == 5
    rows = list(csv.DictReader(io.StringIO(answer.text, newline="")))
    assert [row["more"] for row in rows][:3] == [
        "'=1+1",
        'He said "slack,\nnow"',
        "Café con leche en el muelle",
    ]
    assert rows[0]["begin_utc"] == "2026-11-25T14:20:30Z"
    assert rows[3]["grade"] == "warning"

    told = json.loads(client.get("/log.json?kind=note&kind=alert").text)
    assert [row["begin_utc"] for row in told] == [row["begin_utc"] for row in rows]
    assert told[0]["more"] == "=1+1"
    assert told[3] | {"what": "", "more": ""} == {
        "begin_utc": "2026-11-25T10:21:00Z", "not_before_utc": None, "not_after_utc": None, "lasted_s": 0.0,
        "kind": "alert", "subject": "house", "grade": "warning", "what": "", "more": "", "runs": 1, "boot": 1,
        "boot_s": NOW_S - 4 * HOUR_S,
    }  # fmt: skip


def test_a_file_of_ten_thousand_rows_is_whole(client_of: ClientOf) -> None:
    client = client_on(client_of, Many([note(NOW_S - MINUTE_S * n, f"line {n}") for n in range(10_000)]))
    assert len(json.loads(client.get("/log.json?span=all").text)) == 10_000
    assert len(list(csv.reader(io.StringIO(client.get("/log.csv?span=all").text)))) == 10_001
    assert json.loads(client.get("/log.json?search=barnacle").text) == []


def test_a_note_is_handed_to_the_watch_with_its_own_time(client_of: ClientOf) -> None:
    watch = canned()
    client = client_of(watch)
    answer = client.post(
        "/notes", data={"text": " Two turns\r\non the stern gland ", "at": "2026-11-25T00:00"}, headers=OWN
    )
    assert answer.status_code == 303
    assert answer.headers["location"] == "/log"
    assert watch.asked[-1].kind == "note"
    assert watch.asked[-1].facts == {"text": "Two turns\non the stern gland", "utc_s": MIDNIGHT_S}
    client.post("/notes", data={"text": "x" * 2000, "at": ""}, headers=OWN)
    assert watch.asked[-1].facts == {"text": "x" * 2000}


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ({"text": "  "}, "the note is empty"),
        ({"text": "kept " + "x" * 1996}, "a note has 2000 characters at most, got 2001"),
        ({"text": "kept", "at": "soon"}, "When: expected a date and time like 2026-11-20T18:00, got “soon”."),
        ({"text": "kept", "at": "2027-01-01T00:00"}, "a note cannot be of the future: it is Wed 15:21 now"),
    ],
)
def test_a_note_that_is_refused_is_not_lost(form: dict[str, str], said: str, client_of: ClientOf) -> None:
    """The page comes back with what was typed still in its field."""
    watch = canned()
    answer = client_of(watch).post("/notes", data=form, headers=OWN)
    assert answer.status_code == 422
    assert said in Words(answer.text).text
    assert form["text"].strip()[:40] in answer.text
    assert watch.asked == []


STRANGE = (
    "\u05e9\u05dc\u05d5\u05dd <b>bold</b>",
    "\u202eback to front",
    "e\u0301" * 40,
    "&amp; \u0000 \u2028 end",
    "نفد الماء",
)


@pytest.mark.parametrize("text", STRANGE)
def test_strange_notes_are_only_words_of_their_own_line(text: str, client_of: ClientOf) -> None:
    """HTML's bdi isolates what runs the other way (Unicode bidirectional algorithm, UAX #9); nothing of a
    note is markup."""
    answer = client_on(client_of, Many([note(NOW_S - 60, text)])).get("/log")
    assert answer.status_code == 200
    cell = re.search(r'<tr class="noted">.*<td><bdi>([^<]*)</bdi></td></tr>', answer.text)
    assert cell is not None
    assert "<b>" not in cell[1]
    assert Words(f"<p>{cell[1]}</p>").text.split() == text.split()


def test_the_log_speaks_the_readers_language(client_of: ClientOf) -> None:
    """CLDR: a comma between the whole and its parts, "mié" for Wednesday in Spanish."""
    client = client_on(client_of, SOME)
    client.cookies.set("language", "es")
    text = text_of(client, "/log")
    assert "mié 25 nov" in text
    assert re.search(r"0,[23]\sA", text)


def test_the_pages_of_alerts_and_rules_speak_it_too(client_of: ClientOf) -> None:
    watch = canned("calm")
    client = client_of(watch)
    client.cookies.set("language", "es")
    for path in (
        "/alerts",
        "/alerts/month",
        "/rules",
        "/rules/low%20voltage?subject=house",
        "/handover",
        "/guests",
    ):
        text = text_of(client, path)
        assert not re.search(r"\b(Mon|Tue|Wed|Thu|Sat|Sun) \d", text), path
    hint = text_of(client, "/rules/low%20voltage?subject=house")
    assert "10,8" in hint


def test_a_limit_in_gallons_is_shown_and_taken_in_gallons(client_of: ClientOf) -> None:
    """A US gallon is 231 cubic inches: 3.785411784 L (NIST Handbook 44)."""
    watch = canned("calm")
    client = client_of(watch)
    client.cookies.set("volume", "US gal")
    page = client.get("/rules/low%20water").text
    field = re.search(r'name="limit" value="([^"]*)"[^>]*> ([^<]*)<', page)
    assert field is not None
    assert field[2].strip() == "US gal"
    client.cookies.clear()
    litres = re.search(r'name="limit" value="([^"]*)"', client.get("/rules/low%20water").text)
    assert litres is not None
    assert float(field[1]) * 3.785411784 == pytest.approx(float(litres[1]), rel=1e-5)
