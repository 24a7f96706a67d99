"""What is done on the page of water: the guided test, filling, what is due, and what its forms ask for."""

from dataclasses import replace
from typing import Any

import pytest

from monitor.errors import CommandError
from monitor.records import Command, Counter, Filling
from tests.web import canned_water
from tests.web.canned import AT_S, CannedWatch, canned, settings
from tests.web.conftest import ClientOf, page_of
from tests.web.test_pages import Words, text_of

OWN = {"origin": "http://127.0.0.1:8080"}


class TestGuided:
    def test_the_wait_is_told_with_what_is_left_of_it(self, client_of: ClientOf) -> None:
        """22 of 60 minutes have passed at 15:21: 38 are left, until 15:59."""
        said = text_of(client_of(canned("guided")), "/water")

        assert "38 min of 1 h to go" in said
        assert "Until 15:59." in said
        assert "if it stays still, the leak is beyond this cock" in said, "what each outcome means"
        assert "Somebody drew water" in said

    @pytest.mark.parametrize(
        "step", [canned_water.waiting(AT_S), canned_water.asking(), canned_water.looking()]
    )
    def test_the_caution_of_scalding_stands_at_every_step(self, step: Any, client_of: ClientOf) -> None:
        watch = canned("guided")
        watch.snapshot = replace(watch.snapshot, water=replace(watch.snapshot.water, guided=step))
        said = text_of(client_of(watch), "/water")

        assert "Stored hot water scalds" in said
        assert "Never shut a cock between a heater and its relief valve" in said
        assert "Begin the guided test" not in said

    def test_what_was_found_is_put_away_by_a_button(self, client_of: ClientOf) -> None:
        watch = canned("guided")
        found = replace(watch.snapshot.water, guided=canned_water.concluded())
        watch.snapshot = replace(watch.snapshot, water=found)
        said = text_of(client_of(watch), "/water")

        assert "What the guided test of the pressure pump found" in said
        assert "Put it away" in said
        assert "Begin the guided test" in said


class TestFilling:
    def test_litres_rate_and_time_to_full(self, client_of: ClientOf) -> None:
        said = text_of(client_of(canned("filling")), "/water")

        assert "Filling the midship tank Poured in 74 L Running in at 18 L/min Full in 6 min" in said

    def test_at_95_percent_it_says_stop(self, client_of: ClientOf) -> None:
        watch = canned("filling")
        near = (Filling("midship", 130.0, 17.6, 40.0, 95.4),)
        watch.snapshot = replace(watch.snapshot, water=replace(watch.snapshot.water, fillings=near))

        assert "Full in stop now" in text_of(client_of(watch), "/water")

    def test_the_watermaker_tells_litres_cost_and_time(self, client_of: ClientOf) -> None:
        said = text_of(client_of(canned("filling")), "/water")

        assert "Watermaker running 61 L 58 L/h 4.3 Wh a L 2 h 30 min" in said
        assert "Its water counts once it is in a tank" in said


def test_what_is_due_first_stands_first(client_of: ClientOf) -> None:
    said = text_of(client_of(canned()), "/water")

    assert "Falling due sanitise the tanks: due now" in said
    assert said.index("Sanitise the tanks") < said.index("Strainer") < said.index("Carbon filter")
    assert "Sanitise the tanks 190 of 183 days due now" in said
    assert "Oil generator 12 of 100 h pace not known" in said


@pytest.mark.parametrize(
    ("days", "hours", "told"),
    [
        ((12.0, 18.0), (41.0, 21.0), "12 of 30 days , 41 of 60 h in 18 days"),
        ((4.0, 26.0), (41.0, 21.0), "41 of 60 h , 4 of 30 days in 21 days"),
        ((28.0, 2.0), (3.0, None), "28 of 30 days , 3 of 60 h in 2 days"),
        ((28.0, 2.0), (60.0, None), "60 of 60 h , 28 of 30 days due now"),
    ],
    ids=["days nearer", "hours nearer", "hours without a pace", "hours over"],
)
def test_what_is_counted_twice_is_one_row_the_nearer_first(
    days: tuple[float, float], hours: tuple[float, float | None], told: str, client_of: ClientOf
) -> None:
    watch = canned()
    twice = (
        Counter("strainer", "pressure pump", hours[0], 60.0, "h", hours[1]),
        Counter("strainer", "pressure pump", days[0], 30.0, "days", days[1]),
    )
    watch.snapshot = replace(watch.snapshot, water=replace(watch.snapshot.water, counters=twice))
    html = page_of(client_of, watch)

    assert f"Strainer pressure pump {told} " in Words(html).text
    assert html.count('name="service" value="strainer"') == 1


def test_fills_tell_who_said_what(client_of: ClientOf) -> None:
    said = text_of(client_of(canned("leaking")), "/water")

    assert "midship 96 L found by the watch; nobody has said from where" in said
    assert "forward 118 L the quay at Muros, treated" in said


WISHES: tuple[tuple[str, dict[str, str], Command], ...] = (
    ("test", {"pump": "pressure pump", "action": "start"},
     Command("guided test", "pressure pump", {"action": "start", "answer": ""})),
    ("test", {"pump": "pressure pump", "answer": "drew"},
     Command("guided test", "pressure pump", {"action": "answer", "answer": "drew"})),
    ("test", {"pump": "pressure pump", "action": "stop"},
     Command("guided test", "pressure pump", {"action": "stop", "answer": ""})),
    ("filling", {"tank": "midship", "on": "true"}, Command("filling", "midship", {"on": True})),
    ("filling", {"tank": "midship", "on": "false"}, Command("filling", "midship", {"on": False})),
    ("fill", {"tank": "forward", "source": " the  spring ", "treated": "no", "litres": "118,5"},
     Command("fill", "forward", {"source": "the spring", "treated": False, "litres": 118.5})),
    ("fill", {"tank": "forward", "source": "quay", "litres": ""},
     Command("fill", "forward", {"source": "quay", "treated": None})),
    ("dip", {"tank": "forward", "litres": "80"}, Command("tank", "forward", {"litres": 80.0})),
    ("tank", {"tank": "forward", "state": "isolated"}, Command("tank", "forward", {"state": "isolated"})),
    ("crew", {"people": "5"}, Command("crew", "boat", {"heads": 5})),
    ("service", {"service": "strainer"}, Command("service done", "strainer")),
)  # fmt: skip


@pytest.mark.parametrize(("where", "form", "command"), WISHES)
def test_a_form_becomes_a_command(
    where: str, form: dict[str, str], command: Command, client_of: ClientOf
) -> None:
    watch = canned()

    answer = client_of(watch).post(f"/water/{where}", data=form, headers=OWN)

    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/water")
    assert watch.asked == [command]


@pytest.mark.parametrize(
    ("where", "form", "status", "told"),
    [
        ("tank", {"tank": "forward", "state": "lost"}, 422, "state"),
        (
            "tank",
            {"tank": "bilge", "state": "isolated"},
            409,
            "no tank is called 'bilge'; there are: forward",
        ),
        ("test", {"pump": "bilge pump", "action": "start"}, 409, "no pump is called 'bilge pump'"),
        ("filling", {"tank": "midship"}, 422, "on"),
        ("fill", {"tank": "midship", "litres": "a lot"}, 409, "got 'a lot'"),
        ("fill", {"tank": "midship", "litres": "nan"}, 409, "expected a number"),
        ("fill", {"tank": "midship", "litres": "-4"}, 409, "expected a number from 0"),
        ("fill", {"tank": "midship", "source": "x" * 61}, 422, "source"),
        ("crew", {"people": "51"}, 422, "people"),
        ("crew", {"people": "0"}, 422, "people"),
        ("service", {}, 422, "service"),
    ],
)
def test_a_wrong_form_says_what_is_wrong(
    where: str, form: dict[str, str], status: int, told: str, client_of: ClientOf
) -> None:
    watch = canned()

    answer = client_of(watch).post(f"/water/{where}", data=form, headers=OWN)

    assert answer.status_code == status
    assert told in Words(answer.text).text
    assert watch.asked == []


def test_what_the_watch_refuses_is_told_in_its_words(client_of: ClientOf) -> None:
    class Refusing(CannedWatch):
        def submit(self, command: Command) -> None:
            raise CommandError("a guided test is under way: stop it first")

    watch = Refusing(canned().snapshot, settings())
    form = {"pump": "pressure pump", "action": "start"}

    answer = client_of(watch).post("/water/test", data=form, headers=OWN)

    assert answer.status_code == 409
    assert "a guided test is under way: stop it first" in Words(answer.text).text


class TestTheReadersOwn:
    """Language and units of one browser, by its cookies."""

    def test_gallons_are_asked_for_told_and_taken(self, client_of: ClientOf) -> None:
        """1 US gal = 231 cubic inches of 2.54 cm = 3.785411784 L: 10.5 are 39.7468 L, 262 L are 69 gal."""
        watch = canned()
        client = client_of(watch)
        client.cookies.set("volume", "US gal")
        said = text_of(client, "/water")

        assert "69 US gal of fresh water are left" in said
        assert "How much in US gal, if you know better" in said
        form = {"tank": "forward", "source": "quay", "litres": "10,5"}
        assert client.post("/water/fill", data=form, headers=OWN).status_code == 303
        assert watch.asked[-1].facts["litres"] == pytest.approx(10.5 * 231 * 2.54**3 / 1000, rel=1e-12)
        told = client.post("/water/fill", data=form | {"litres": "30000"}, headers=OWN).text
        assert "expected a number from 0 to 26417 US gal, got '30000'" in Words(told).text

    def test_a_reader_of_spanish_sees_commas_and_her_own_days(self, client_of: ClientOf) -> None:
        """CLDR: a comma, "mié", "mar"; one refill of 1.84 s is told in tenths."""
        client = client_of(canned("leaking"))
        client.cookies.set("language", "es")
        said = text_of(client, "/water")

        assert "mié" in said
        assert "1,8" in said
        assert "1.8 s" not in said
