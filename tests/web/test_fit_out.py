"""Fit-out: what is heard and how well, what is reckoned with, and the calibrations' pages and forms."""

from collections.abc import Sequence
from dataclasses import replace

import pytest
from fastapi.testclient import TestClient

from monitor.clock import DAY_S, Interval
from monitor.errors import CommandError
from monitor.records import AlertChange, Command, Reason, Severity
from tests.web import canned_fit_out
from tests.web.canned import AT_S, NOW_S, CannedRecord, CannedWatch, canned
from tests.web.conftest import ClientOf
from tests.web.crew import Aboard
from tests.web.test_pages import Words, text_of
from web.render import NAVIGATION

OWN = {"origin": "http://127.0.0.1:8080"}
HERE, THERE = "/fit-out", "/fit-out/calibration"


def at_step(step: str) -> CannedWatch:
    watch = canned("well")
    watch.snapshot = canned_fit_out.fitted(watch.snapshot, NOW_S, step)
    return watch


class Silences(CannedRecord):
    """The midship sender fell silent twice this week, and once before; the broker once."""

    def alert_changes(self, during: Interval | None = None) -> Sequence[tuple[AlertChange, float | None]]:
        rows = (
            ("instrument silent", "midship", 1.0, "began"), ("instrument silent", "midship", 1.0, "ended"),
            ("instrument silent", "midship", 3.0, "came back"),
            ("instrument silent", "midship", 9.0, "began"),
            ("source silent", "broker", 2.0, "began"), ("low voltage", "midship", 2.0, "began"),
        )  # fmt: skip
        return [
            (
                AlertChange(
                    f"{rule}/{days}", rule, subject, Severity.CAUTION, 1, AT_S - days * DAY_S,
                    "ended" if what == "ended" else "active", Reason("x"), what,
                ),
                NOW_S - days * DAY_S,
            )
            for rule, subject, days, what in rows
        ]  # fmt: skip


class TestPage:
    def test_it_stands_after_the_log_and_history_behind_it(self, client: TestClient) -> None:
        assert [href for href, _ in NAVIGATION] == ["/", "/night", "/water", "/power", "/log", "/fit-out"]
        for path in (HERE, "/rests/energy_days/house", "/rests/reading/house%20voltage"):
            links = [value for name, value in Words(client.get(path).text).attributes if name == "href"]
            assert any(link.startswith("/history") for link in links), path

    def test_the_first_sentence_says_what_is_heard_and_what_wants_calibrating(
        self, client: TestClient
    ) -> None:
        assert (
            "Every source is heard and every instrument speaks."
            " Worth calibrating: the drawdown of the pressure pump." in text_of(client, HERE)
        )

    def test_what_is_silent_is_named_first(self, client_of: ClientOf) -> None:
        said = text_of(client_of(canned("apart")), HERE)

        assert "Silent: broker. Of what still speaks, these say nothing: midship." in said
        assert "level 72 % silent for 14 min" in said

    def test_two_instruments_that_disagree_stand_side_by_side(self, client_of: ClientOf) -> None:
        said = text_of(client_of(canned("apart")), HERE)

        assert "House current \u221211.4 A \u22129.1 A The house bank's two current sensors disagree" in said

    def test_sources_tell_their_state_age_and_counts(self, client: TestClient) -> None:
        said = text_of(client, HERE)

        assert "backbone can, 1 204 331 heard, 3 undecodable, 41 unknown up now" in said
        assert "battery bus can, 803 110 heard up now" in said

    def test_an_instrument_tells_what_speaks_for_it(self, client: TestClient) -> None:
        said = text_of(client, HERE)

        assert "house backbone, instance 0; battery bus, in 13 messages voltage 13.21 V now" in said
        assert "Not heard since the watch began, as when at rest or unplugged: alternator," in said
        assert "for the settings name no feed: navigation lights," in said

    def test_how_often_each_fell_silent_this_week(self, client_of: ClientOf) -> None:
        watch = canned("well")
        watch.record = Silences()
        said = text_of(client_of(watch), HERE)

        assert "midship backbone, instance 1 level 72 % now 2" in said
        assert "forward backbone, instance 0 level 61 % now 0" in said
        assert "broker mqtt, 20 420 heard up now 1" in said

    def test_without_a_record_that_is_unknown(self, client_of: ClientOf) -> None:
        watch = canned("well")
        watch.record = None

        assert "level 72 % now unknown" in text_of(client_of(watch), HERE)

    def test_each_figure_tells_how_well_it_is_known(self, client: TestClient) -> None:
        said = text_of(client, HERE)

        assert (
            "What the pressure pump moves 10.4 L/min give or take 0.31 L/min measured from 3 repeats,"
            " Fri 13 Nov Measure with a bucket As it was" in said
        )
        assert "gives 0.34 L set as the settings say Measure with a jug" in said
        assert "midship tank learned from 31 fills and draws Sound by pouring" in said
        assert "off by \u2212121 mA give or take 18 mA learned from its full charges, Tue 24 Nov" in said
        assert "The house bank holds".lower() in said.lower()

    def test_an_empty_boat_has_a_page(self, client_of: ClientOf) -> None:
        assert "No source is set: the settings name what to listen to." in text_of(
            client_of(canned("empty")), HERE
        )

    def test_gallons_for_who_reads_gallons(self, client: TestClient) -> None:
        """10.42 L/min over 3.785411784 L: 2.75 US gal/min."""
        client.cookies.set("volume", "US gal")

        assert "2.75 US gal/min" in text_of(client, HERE)


class TestSteps:
    @pytest.mark.parametrize("step", canned_fit_out.STEPS)
    def test_every_step_says_one_thing_in_words(self, step: str, client_of: ClientOf) -> None:
        page = Words(client_of(at_step(step)).get(THERE).text)

        assert "unknown" not in page.text
        assert "calibration " not in page.text.replace("this calibration", ""), "an id without a sentence"

    @pytest.mark.parametrize("step", ["reading", "listening", "connecting"])
    def test_the_caution_stands_before_everything_that_is_asked(self, step: str, client_of: ClientOf) -> None:
        html = client_of(at_step(step)).get(THERE).text

        assert html.index("Never open a battery switch") < html.index("<h1") < html.index("/answer")
        for word in ("load dump", "navigation lights", "safe berth", "daylight", "qualified"):
            assert word in html, word

    def test_a_bank_that_is_isolated_can_only_be_connected_again(self, client_of: ClientOf) -> None:
        said = text_of(client_of(at_step("connecting")), THERE)

        assert "The bank is connected again" in said
        assert "Stop, and change nothing" not in said

    def test_a_result_stands_against_what_was_believed(self, client_of: ClientOf) -> None:
        said = text_of(client_of(at_step("flow found")), THERE)

        assert "The pressure pump moves 10.4 L/min, give or take 0.31 L/min." in said
        assert "Until now 11.0 L/min were reckoned with. Take it Leave it as it is" in said

    def test_a_table_says_what_it_does_not_cover(self, client_of: ClientOf) -> None:
        """At 21.4 % the straight table has 2.5 L a per cent, 53.5 L; 40 were poured in."""
        said = text_of(client_of(at_step("sounded")), THERE)

        assert "Where it differs most, at 21.4 %, the tank holds 40.0 L and not 53.5 L." in said
        assert "Measured from 8.2 % to 80.2 %. Outside of that nothing is known" in said

    def test_fit_out_leads_to_the_one_under_way(self, client_of: ClientOf) -> None:
        assert "Go on with it" in text_of(client_of(canned("calibrating")), HERE)

    def test_without_one_it_says_so(self, client: TestClient) -> None:
        assert "No calibration is under way." in text_of(client, THERE)

    def test_what_is_typed_into_is_not_loaded_anew_without_javascript(self, client_of: ClientOf) -> None:
        assert "<noscript>" not in client_of(at_step("bucket")).get(THERE).text
        assert "<noscript>" in client_of(at_step("listening")).get(THERE).text

    def test_a_zero_is_never_proposed(self, client_of: ClientOf) -> None:
        """Nobody is told to isolate a bank."""
        watch = canned("well")
        learned = tuple(replace(one, how="set") for one in watch.snapshot.fit_out.learned)
        watch.snapshot = replace(watch.snapshot, fit_out=replace(watch.snapshot.fit_out, learned=learned))
        said = text_of(client_of(watch), HERE)

        assert "Worth calibrating: the flow of the pressure pump, the drawdown of the pressure pump" in said
        assert "the zero of" not in said
        assert "Listen for its zero" in said


class TestForms:
    def test_beginning_leads_to_the_steps(self, client: TestClient, well: CannedWatch) -> None:
        answer = client.post(THERE, data={"what": "flow", "subject": "pressure pump"}, headers=OWN)

        assert (answer.status_code, answer.headers["location"]) == (303, THERE)
        assert well.asked == [Command("calibration", "pressure pump", {"action": "start", "what": "flow"})]

    @pytest.mark.parametrize(("said", "litres"), [("10", 10.0), (" 9,5 ", 9.5), ("0", 0.0)])
    def test_litres_with_a_point_or_a_comma(
        self, said: str, litres: float, client: TestClient, well: CannedWatch
    ) -> None:
        form = {"subject": "pressure pump", "action": "litres", "litres": said}
        assert client.post(THERE + "/answer", data=form, headers=OWN).status_code == 303

        assert well.asked == [Command("calibration", "pressure pump", {"action": "litres", "litres": litres})]

    def test_gallons_become_litres(self, client: TestClient, well: CannedWatch) -> None:
        """A US gallon is 231 cubic inches: 3.785411784 L."""
        client.cookies.set("volume", "US gal")
        form = {"subject": "pressure pump", "action": "litres", "litres": "2"}
        client.post(THERE + "/answer", data=form, headers=OWN)

        assert well.asked[0].facts["litres"] == pytest.approx(7.570823568)

    @pytest.mark.parametrize("said", ["", "a bucket", "-1", "nan", "inf", "1e9"])
    def test_what_is_no_amount_is_told(self, said: str, client: TestClient, well: CannedWatch) -> None:
        form = {"subject": "pressure pump", "action": "litres", "litres": said}
        answer = client.post(THERE + "/answer", data=form, headers=OWN)

        assert answer.status_code == 409
        assert "the amount: expected a number" in Words(answer.text).text
        assert well.asked == []

    @pytest.mark.parametrize("action", ["take", "leave", "stop"])
    def test_the_end_leads_back_to_the_figures(self, action: str, client: TestClient) -> None:
        form = {"subject": "pressure pump", "action": action}
        answer = client.post(THERE + "/answer", data=form, headers=OWN)

        assert answer.headers["location"] == HERE + "#figures"

    def test_what_was_taken_can_be_made_as_it_was(self, client: TestClient, well: CannedWatch) -> None:
        client.post(THERE + "/back", data={"what": "flow", "subject": "pressure pump"}, headers=OWN)

        assert well.asked == [Command("calibration back", "pressure pump", {"what": "flow"})]

    def test_a_refusal_is_told_in_words(self, client: TestClient, well: CannedWatch) -> None:
        def refuse(command: Command) -> None:
            raise CommandError("{source:text} is heard running", source="panels")

        well.submit = refuse  # type: ignore[method-assign]
        answer = client.post(THERE, data={"what": "zero", "subject": "house"}, headers=OWN)

        assert answer.status_code == 409
        assert "panels is heard running" in Words(answer.text).text

    def test_guests_see_the_steps_and_no_button(self, tmp_path_factory: pytest.TempPathFactory) -> None:
        aboard = Aboard(tmp_path_factory.mktemp("guests"))
        aboard.watch.snapshot = canned_fit_out.fitted(aboard.watch.snapshot, NOW_S, "bucket")
        guest = aboard.browser()

        assert "Sign in to act" in Words(guest.get(THERE).text).text
        assert THERE not in [v for n, v in Words(guest.get(HERE).text).attributes if n == "action"]
        assert guest.post(THERE, data={"what": "flow", "subject": "pressure pump"}).status_code in (303, 403)
        assert aboard.watch.asked == []


def test_a_source_that_never_spoke_is_told(client_of: ClientOf) -> None:
    watch = canned("well")
    never = replace(watch.snapshot.sources[0], up=False, heard_at_s=None, heard=0, undecodable=0, unknown=0)
    watch.snapshot = replace(watch.snapshot, sources=(never,))

    assert "backbone can, 0 heard silent never" in text_of(client_of(watch), HERE)
