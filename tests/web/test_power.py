"""The page of energy: what it says of the charge, the plan, the cells, the rehearsal and a load to be run.

The figures on it are the canned ones of `tests.web.canned`; the times are reckoned here by hand.
"""

from dataclasses import replace
from typing import NoReturn

import pytest

from monitor.errors import StorageError
from monitor.records import Course, Mode, PowerPicture, Reason
from tests.web.canned import AT_S, CannedRecord, canned, estimate
from tests.web.conftest import ClientOf
from tests.web.test_pages import Words, text_of
from web.presentation.figures import BY_ESTIMATE
from web.presentation.rests import HOW


def test_the_charge_is_told_with_its_band_and_the_age_of_the_last_full(client_of: ClientOf) -> None:
    """93,000 s are 25 h 50 min: from ten hours on only whole hours are told."""
    said = text_of(client_of(canned()), "/power")

    assert "The house bank is at 69 % (65 to 72), last full 25 h ago." in said


def test_it_lasts_till_two_moments_with_charging_and_with_none(client_of: ClientOf) -> None:
    """Now is Wed 25 Nov 15:21. 6.9 days on is Wed 2 Dec, 4.6 days Mon 05:45, 1.6 days Fri 05:45, 1.4 days
    Fri 00:57, each told by the hour begun."""
    said = text_of(client_of(canned()), "/power")

    assert "It likely lasts till Wed 2 Dec, at the least till Mon 05:00." in said
    assert "If nothing charged from now on: likely till Fri 05:00, at the least till Fri 00:00." in said


def test_alongside_it_is_the_shore_that_may_fail(client_of: ClientOf) -> None:
    watch = canned()
    watch.snapshot = replace(watch.snapshot, mode=Mode("alongside", "awake"))

    said = text_of(client_of(watch), "/power")

    assert "If the shore supply failed now: likely till Fri 05:00, at the least till Fri 00:00." in said


def test_beyond_the_horizon_no_date_is_made_up(client_of: ClientOf) -> None:
    watch = canned()
    told = Reason("days from history", {"days": 21, "place": "at anchor"})
    e = dict(watch.snapshot.estimates)
    e["energy_days", "house"] = estimate("energy_days", "house", 10.0, 10.0, None, told, beyond=True)
    e["autonomy_days", "house"] = estimate("autonomy_days", "house", 10.0, 8.0, None, told, beyond=True)
    watch.snapshot = replace(watch.snapshot, estimates=e)

    said = text_of(client_of(watch), "/power")

    assert "It lasts ten days and more." in said
    assert "If nothing charged from now on: likely ten days and more, at the least till Thu 3 Dec." in said


def test_the_options_of_the_plan_stand_in_a_table(client_of: ClientOf) -> None:
    said = text_of(client_of(canned()), "/power")

    assert "Ways to charge, were it wanted" in said
    assert "Alternator 640 W reckoned 50 min Wed 17:51 51 %" in said


def test_each_cell_stands_off_the_mean_by_hand(client_of: ClientOf) -> None:
    """Mean of 3.302, 3.305, 3.296 and 3.307 V is 3.3025 V."""
    page = Words(client_of(canned()).get("/power").text)
    told = [value for name, value in page.attributes if name == "aria-label" and value.endswith("mV")]

    expected = [1000 * (v - 3.3025) for v in (3.302, 3.305, 3.296, 3.307)]
    assert [float(t.split("\u00a0")[0].replace("\u2212", "-")) for t in told] == pytest.approx(
        expected, abs=0.51
    )
    assert "cuts at 2.65 V and 3.65 V a cell" in page.text


def test_the_rehearsal_lists_loads_in_the_order_they_are_kept(client_of: ClientOf) -> None:
    said = text_of(client_of(canned()), "/power")

    places = [said.index(name) for name in ("Navigation lights", "Compass light", "VHF radio", "Plotter")]
    assert places == sorted(places)
    # 430 / 39 h and 610 / 39 h of the canned buffer with all four on.
    assert "11 h to 16 h" in said


def test_a_load_is_answered_and_the_form_keeps_what_was_asked(client_of: ClientOf) -> None:
    """2 kW for a quarter of an hour is 500 Wh, some 560 at the bank: of 4,050 that is no matter."""
    client = client_of(canned())

    page = Words(client.get("/power?watts=2000&minutes=15").text)

    assert "Yes, as things stand." in page.text
    assert ("value", "2000") in page.attributes
    assert ("value", "15") in page.attributes
    assert "Yes, as things stand." not in text_of(client, "/power")


def test_more_than_the_inverter_carries_is_refused(client_of: ClientOf) -> None:
    assert "Better not." in text_of(client_of(canned()), "/power?watts=4500&minutes=5")


@pytest.mark.parametrize("asked", ["watts=-5&minutes=3", "watts=abc&minutes=3", "watts=10&minutes=1e9"])
def test_nonsense_is_told_what_was_not_as_expected(asked: str, client_of: ClientOf) -> None:
    answer = client_of(canned()).get(f"/power?{asked}")

    assert answer.status_code == 422
    assert "not filled in as expected" in answer.text


def test_without_a_charge_nothing_is_claimed(client_of: ClientOf) -> None:
    said = text_of(client_of(canned("unknown")), "/power?watts=2000&minutes=15")

    assert "Charge unknown until the first full charge" in said
    assert "That cannot be said before the charge is known." in said
    assert "%" not in said.split("Ways to charge")[0]


def test_past_forecasts_are_drawn_up_to_now_and_no_further(client_of: ClientOf) -> None:
    """Four evenings were kept; a line that reached past the middle would lie over what is forecast now."""
    html = client_of(canned()).get("/power").text
    lines = [part.split('d="')[1].split('"')[0] for part in html.split("<path ") if 'class="old"' in part]

    assert len(lines) == 4
    for line in lines:
        across = [float(point.split(" ")[0]) for point in line.replace("M", "L").split("L") if point]
        assert max(across) <= 0.5


def test_nothing_kept_yet_is_a_page_all_the_same(client_of: ClientOf) -> None:
    watch = canned()
    watch.snapshot = replace(watch.snapshot, power=PowerPicture(), ebbs=tuple(
        replace(e, past=Course((), (), (), ()), ahead=Course((), (), (), ())) for e in watch.snapshot.ebbs
    ))  # fmt: skip
    watch.record = None

    assert client_of(watch).get("/power").status_code == 200


def test_a_silent_cell_is_told_as_old(client_of: ClientOf) -> None:
    watch = canned()
    values = dict(watch.snapshot.values)
    name = "house cell 2 voltage"
    values[name] = values[name]._replace(at_s=AT_S - 600, silent=True)
    watch.snapshot = replace(watch.snapshot, values=values)

    row = client_of(watch).get("/power").text.split("Cell 2")[0].rsplit("<tr", 1)[1]

    assert 'class="silent"' in row


def test_the_record_may_fail_without_the_page(client_of: ClientOf) -> None:
    class Broken(CannedRecord):
        def events(self, *_: object) -> NoReturn:
            raise StorageError("the disk is gone")

    watch = canned()
    watch.record = Broken()

    assert client_of(watch).get("/power").status_code == 200


def test_every_figure_of_an_estimate_says_how_it_is_found() -> None:
    """A number that cannot be questioned is not to be planned on."""
    assert set(BY_ESTIMATE) - set(HOW) == set()


def test_what_is_not_in_sight_has_no_hours_and_what_is_wasted_has_a_band(client_of: ClientOf) -> None:
    watch = canned()
    e = dict(watch.snapshot.estimates)
    e["cut_minutes", "house"] = estimate(
        "cut_minutes", "house", 1440.0, 1440.0, 1440.0, Reason("cut: none in sight", {}), beyond=True
    )
    e["wasted_Wh", "house"] = estimate(
        "wasted_Wh", "house", 444.0, 210.0, 690.0, Reason("sun turned down", {})
    )
    e["opinion_offset_A", "house"] = estimate(
        "opinion_offset_A", "house", -0.099, -0.102, -0.096, Reason("opinions compared", {})
    )
    watch.snapshot = replace(watch.snapshot, estimates=e)

    said = text_of(client_of(watch), "/power")

    assert "Until the bank cuts off none in sight" in said
    assert "444 Wh 210 to 690 Wh" in said
    assert "\u221299 mA \u2212102 to \u221296 mA" in said


class TestTheAnswer:
    """What a stranger asks first: which bank, how full, how sure, since when, what carries it, what to do."""

    def test_it_stands_before_everything_else(self, client_of: ClientOf) -> None:
        said = text_of(client_of(canned()), "/power")
        answer = said.split("Can I run it now?")[0]

        for told in (
            "The house bank is at 69 % (65 to 72), last full 25 h ago. No need to charge today",
            "4½ to 6 days", "The house bank gives 151 W", "From the panels 38 W",
        ):  # fmt: skip
            assert told in answer
        assert "Ways to charge" not in answer

    def test_where_charging_presses_the_ways_stand_in_it(self, client_of: ClientOf) -> None:
        watch = canned()
        plan = watch.snapshot.power.plan
        assert plan is not None
        pressing = replace(watch.snapshot.power, plan=replace(plan, needed=True))
        watch.snapshot = replace(watch.snapshot, power=pressing)

        assert "Ways to charge today" in text_of(client_of(watch), "/power").split("Can I run it now?")[0]

    def test_what_is_not_heard_takes_one_line(self, client_of: ClientOf) -> None:
        said = text_of(client_of(canned()), "/power")

        assert "Nothing is heard of: shore, generator supply, inverter." in said
        assert "Nothing is heard of: shore charger." in said

    def test_every_number_of_what_comes_in_says_what_it_rests_on(self, client_of: ClientOf) -> None:
        client = client_of(canned())
        links = [v for n, v in Words(client.get("/power").text).attributes if n == "href" and "/rests/" in v]

        assert {"/rests/comes%20in/panels", "/rests/way%20to%20charge/alternator"} <= set(links)
        assert "/rests/rehearsal/navigation" in links
        assert [v for v in links if client.get(v).status_code != 200] == []

    def test_a_decimal_comma_is_understood(self, client_of: ClientOf) -> None:
        page = Words(client_of(canned()).get("/power?watts=60,5&minutes=15").text)

        assert "Yes, as things stand." in page.text
        assert ("value", "60.5") in page.attributes

    def test_a_reader_of_spanish_sees_her_own_decimal_mark_and_days(self, client_of: ClientOf) -> None:
        """CLDR: "mié 2 dic" and a comma; 3.302 V is the canned first cell."""
        client = client_of(canned())
        client.cookies.set("language", "es")

        said = text_of(client, "/power")

        assert "3,302\u00a0V" in said.replace(" V", "\u00a0V")
        assert "mié 2 dic" in said
