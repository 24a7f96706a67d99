"""The loads that were learned: what is told of each, and what the crew may call it."""

from dataclasses import replace

import pytest
from fastapi.testclient import TestClient

from monitor.records import LoadKind
from tests.web.canned import NOW_S, CannedWatch, canned
from tests.web.canned_nights import FREEZER, FRIDGE
from tests.web.conftest import ClientOf
from tests.web.test_pages import text_of

OWN = {"Sec-Fetch-Site": "same-origin"}


def post(client: TestClient, **form: str) -> int:
    return client.post("/loads", data=form, headers=OWN).status_code


def with_loads(*loads: LoadKind) -> CannedWatch:
    watch = canned("well")
    watch.snapshot = replace(watch.snapshot, loads=loads)
    return watch


def test_every_load_is_listed_the_heaviest_first_with_its_name_or_a_suggestion(client: TestClient) -> None:
    html = client.get("/loads").text
    assert (
        html.index("93\u00a0W, runs when")
        < html.index("46\u00a0W, comes and goes")
        < html.index("22\u00a0W,")
    )
    assert 'name="name" value="freezer"' in html
    assert 'name="name" value="fridge"' in html
    text = text_of(client, "/loads").replace("\u00a0", " ")
    assert "5 loads are told apart by the steps they make; 2 have no name." in text
    assert "55 % *" in text
    assert "* under 80 % it is not named in the ledger" in text


def test_a_load_is_named_and_its_name_withdrawn(client: TestClient, well: CannedWatch) -> None:
    """Blanks are trimmed and joined; a pressed suggestion counts more than the line; empty withdraws."""
    answer = client.post("/loads", data={"load": FRIDGE, "name": "  the old   fridge "}, headers=OWN)
    assert answer.status_code == 303
    assert answer.headers["location"] == "/loads/load%202"
    post(client, load=FRIDGE, name="half", suggested="fridge")
    post(client, load=FRIDGE, name="")
    assert [(c.kind, c.subject, c.facts) for c in well.asked] == [
        ("load", FRIDGE, {"name": name}) for name in ("the old fridge", "fridge", "")
    ]
    listed = client.post("/loads", data={"load": FRIDGE, "name": "x", "listed": "yes"}, headers=OWN)
    assert listed.headers["location"] == "/loads"


@pytest.mark.parametrize(
    ("form", "why"),
    [
        ({"load": "load 99", "name": "x"}, "any more"),
        ({"load": FRIDGE, "name": "x" * 41}, "a name has at most 40 characters, this one has 41"),
        ({"load": FRIDGE, "name": "Standing load"}, "is a line of the ledger"),
    ],
)
def test_what_cannot_be_done_is_said(
    form: dict[str, str], why: str, client: TestClient, well: CannedWatch
) -> None:
    answer = client.post("/loads", data=form, headers=OWN)
    assert answer.status_code == 409
    assert why in answer.text
    assert well.asked == []
    assert post(client, load=FRIDGE, name="x" * 40) == 303


def test_what_the_watch_refuses_is_said_in_its_words(client_of: ClientOf) -> None:
    """The canned watch refuses a subject of this name."""
    one = replace(canned("well").snapshot.loads[0], id="refuse me")
    answer = client_of(with_loads(one)).post("/loads", data={"load": "refuse me"}, headers=OWN)
    assert answer.status_code == 409
    assert "This was not done: there is no such alert." in answer.text


def test_a_name_given_twice_says_what_that_means(client_of: ClientOf) -> None:
    loads = tuple(
        replace(k, name="fridge") if k.id in (FREEZER, FRIDGE) else k for k in canned().snapshot.loads
    )
    client = client_of(with_loads(*loads))
    for path in ("/loads", "/loads/load%202"):
        assert "2 loads bear the name fridge: they are told together, as one." in text_of(client, path)


def test_the_page_of_a_load_draws_its_last_three_runs(client: TestClient) -> None:
    """The fridge takes 34 W: at some 13.2 V its run lies 2.6 A above what is drawn beside it."""
    html = client.get("/loads/load%202").text
    assert html.count('class="during"') == 3
    text = text_of(client, "/loads/load%202").replace("\u00a0", " ")
    assert "A load of 34 W that comes and goes by itself, 11 min at a time." in text
    assert "By its watts and by how it runs it may be the fridge." in text
    assert "Wed 08:08, 10 min 6.4 A 2.6 A" in text
    assert html.index('value="fridge"') < html.index('value="freezer"')


def test_a_load_of_which_no_run_is_on_record_says_so(client_of: ClientOf) -> None:
    new = LoadKind("load 8", 12.0, 12.0, 1.0, 300.0, 0.2, "pulses", 0.7, 4, 1, NOW_S)
    client = client_of(with_loads(new))
    text = text_of(client, "/loads/load%208")
    assert "No run of it stands in the nights on record" in text
    assert "One load is told apart" in text_of(client, "/loads")
    assert client.get("/loads/load%209").status_code == 404


@pytest.mark.parametrize("how", ["cycles", "pulses", "runs", "varies"])
def test_every_way_to_run_has_words_and_suggestions(how: str, client_of: ClientOf) -> None:
    one = replace(canned().snapshot.loads[0], how=how, name="", suggestion="")
    html = client_of(with_loads(one)).get("/loads/load%204").text
    assert f"load: {how}" not in html
    assert html.count('name="suggested"') >= 3


def test_without_loads_it_is_said_how_they_come(client_of: ClientOf) -> None:
    assert "No load has been told apart yet." in text_of(client_of(with_loads()), "/loads")
