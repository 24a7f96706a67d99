"""The page of water: what it says of tanks, days and plumbing, where it draws each run, and what it sends.

The figures on it are the canned ones of `tests.web.canned_water`; times are reckoned here by hand.
"""

import re
from dataclasses import replace
from math import log
from typing import Any, NoReturn

import pytest

from monitor.clock import DAY_S, HOUR_S
from monitor.errors import CommandError, StorageError
from monitor.records import Command, Event, EventKind, Filling, Reason, WaterPicture
from tests.web import canned_water
from tests.web.canned import (
    AT_S,
    NOW_S,
    STATES,
    CannedRecord,
    CannedWatch,
    WaterRecord,
    canned,
    estimate,
    settings,
)
from tests.web.conftest import ClientOf
from tests.web.test_pages import Words, text_of
from web.presentation.pump_runs import CUT, DRAW, LONE, LONG, kinds_of

PUMP = settings().pumps[0]
BOYLE_L = 1.0 * (1.2 + 1.01325) * (1 / (1.4 + 1.01325) - 1 / (2.8 + 1.01325))
"""Marram's bottle by Boyle's law with absolute pressures, reckoned here: 0.337 L."""
REFILL_S = BOYLE_L / 11 * 60
OWN = {"origin": "http://127.0.0.1:8080"}
BLOCK = re.compile(r"M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)Z")


def strip_of(html: str) -> str:
    found = re.search(r'<figure class="barcode".*?</figure>', html, re.S)
    assert found is not None
    return found[0]


def page_of(client_of: ClientOf, watch: CannedWatch, query: str = "") -> str:
    return client_of(watch).get(f"/water{query}").text


class TestWhatIsLeft:
    def test_litres_days_and_the_time_to_leave_come_first(self, client_of: ClientOf) -> None:
        """Now is Wed 25 Nov 15:21. 6.5 days on is Wed 2 Dec 03:21, 5.4 days Tue 00:57, 4.2 days Sun 20:09,
        each told by the hour begun."""
        said = text_of(client_of(canned("leaking")), "/water")

        assert "262 L of fresh water are left (256 to 268)." in said
        assert "It lasts till Wed 2 Dec, Tue 00:00 if cautious." in said
        assert "Leave for water by Sun 20:00 at the latest." in said
        assert "Suspected at the pressure pump: leak downstream." in said

    def test_a_time_to_leave_that_is_past_is_now(self, client_of: ClientOf) -> None:
        watch = canned()
        plan = watch.snapshot.water.plan
        assert plan is not None
        water = replace(watch.snapshot.water, plan=replace(plan, leave_by_s=NOW_S - 60))
        watch.snapshot = replace(watch.snapshot, water=water)

        assert "Leave for water now, or save." in text_of(client_of(watch), "/water")

    def test_each_step_of_saving_tells_its_days_and_what_it_gains(self, client_of: ClientOf) -> None:
        said = text_of(client_of(canned()), "/water")

        assert "As now 11 L 5 to 6 days" in said
        assert "Short showers 8.0 L 7 to 8 days 2 days more" in said
        assert "Foot pump only 4.0 L 10+ days 9 days more" in said

    def test_sealed_water_stands_apart(self, client_of: ClientOf) -> None:
        said = text_of(client_of(canned()), "/water")

        assert "Sealed emergency water: 24 L, apart, and in none of these days." in said

    def test_a_tank_is_drawn_by_volume_above_its_bottom(self, client_of: ClientOf) -> None:
        """Midship: 260 L, 10 of them unusable, 175 usable: the water stands at 185/260 of the height that
        lies under the 8 % of air drawn above a full tank; the bottom at 10/260."""
        html = page_of(client_of, canned())
        vessel = re.findall(
            r'<svg x="[\d.]+%" width="[\d.]+%" height="100%" class="vessel">.*?</text>', html, re.S
        )
        level, bottom = (
            float(found[1])
            for kind in ("level", "bottom")
            if (found := re.search(rf'<line class="{kind}"[^>]* y1="([\d.]+)%"', vessel[1]))
        )

        assert level == pytest.approx(100 - 92 * 185 / 260, abs=0.01)
        assert bottom == pytest.approx(100 - 92 * 10 / 260, abs=0.01)

    def test_tanks_are_as_wide_as_they_are_large(self, client_of: ClientOf) -> None:
        widths = re.findall(r'width="([\d.]+)%" height="100%" class="vessel', page_of(client_of, canned()))

        assert float(widths[1]) / float(widths[0]) == pytest.approx(260 / 165, rel=0.001)

    def test_a_held_level_and_an_isolated_tank_say_so(self, client_of: ClientOf) -> None:
        watch = canned()
        e = dict(watch.snapshot.estimates)
        held = Reason("tank held for heel", {"pumped_L": 3.0})
        e["tank_L", "forward"] = estimate("tank_L", "forward", 20.0, 8.0, 32.0, held)
        shut = Reason("tank: shut off", {"tank": "forward"})
        e["tank_share", "forward"] = estimate("tank_share", "forward", 0.0, 0.0, 0.0, shut)
        watch.snapshot = replace(watch.snapshot, estimates=e)

        page = Words(page_of(client_of, watch))

        assert "Forward isolated, held" in page.text
        assert "Held while the boat heels; 3.0 L pumped since." in page.text
        assert "Its valve is said to be shut: counted as water aboard, not as drawn from." in page.text

    def test_age_source_and_treatment_of_each_tank(self, client_of: ClientOf) -> None:
        said = text_of(client_of(canned()), "/water")

        assert "Its water is 9 days old on average, the oldest 13 days." in said
        assert "Last filled from the quay at Muros. Treated." in said
        assert "Its water is 3 days old. Nobody has said where the last fill came from." in said


class TestUnknown:
    def test_without_tank_and_pump_nothing_is_claimed(self, client_of: ClientOf) -> None:
        said = text_of(client_of(canned("empty")), "/water")

        assert "The settings name no tank" in said
        assert "The settings name no pump" in said
        assert not re.search(r"\d+ (L|days)\b", said.split("Light")[0])

    def test_unknown_tanks_are_to_be_dipped_and_a_dip_can_be_told(self, client_of: ClientOf) -> None:
        watch = canned()
        e = dict(watch.snapshot.estimates)
        for name, subject in (("tank_L", "midship"), ("left_L", "water"), ("water_days", "water")):
            e[name, subject] = estimate(name, subject, None, None, None, Reason("tank never heard"))
        watch.snapshot = replace(watch.snapshot, estimates=e, water=WaterPicture())

        html = page_of(client_of, watch)

        assert "How much fresh water is left is unknown: dip the tanks." in Words(html).text
        assert html.count('action="/water/dip"') == 1
        assert "None" not in Words(html).text

    def test_a_record_that_cannot_be_read_is_told(self, client_of: ClientOf) -> None:
        class Broken(CannedRecord):
            def events(self, *_: object) -> NoReturn:
                raise StorageError("the disk is gone")

        watch = canned()
        watch.record = Broken()
        answer = client_of(watch).get("/water")

        assert answer.status_code == 200
        assert "The record cannot be read just now." in Words(answer.text).text

    def test_without_a_clock_no_run_is_placed(self, client_of: ClientOf) -> None:
        said = text_of(client_of(canned("no clock")), "/water")

        assert "the pump's runs cannot be placed in the day" in said


class TestRuns:
    def test_runs_are_told_apart(self) -> None:
        """A run of a refill with nobody drawing is a lone one; after a draw it belongs to that draw, and
        before one it began it. What ran for over five minutes is long; an unheard end says nothing."""
        told = [
            (0.0, 40.0, 7.3, False),
            (60.0, 60.0 + REFILL_S, 0.34, False),
            (5000.0, 5000.0 + REFILL_S, 0.34, False),
            (9000.0, 9000.0 + REFILL_S, 0.34, False),
            (9020.0, 9050.0, 5.5, False),
            (20_000.0, 20_400.0, 73.0, False),
            (30_000.0, 30_900.0, 165.0, True),
            (31_000.0, 31_010.0, 1.8, False),
        ]

        refill, runs = kinds_of(PUMP, told)

        assert [r.kind for r in runs] == [DRAW, DRAW, LONE, DRAW, DRAW, LONG, CUT, DRAW]
        assert refill.seconds == pytest.approx(REFILL_S, rel=1e-3)
        assert runs[2].rest_s == pytest.approx(5000 - 60 - REFILL_S)
        assert runs[7].rest_s is None, "what the pump did after an unheard end is not known"

    def test_a_draw_of_many_runs_is_one_draw(self) -> None:
        """A shower of ten runs of 3.5 s, 7 s apart, counts as one run of 35 s; a minute's rest ends it."""
        shower = [(7.0 * n, 7.0 * n + 3.5, 0.64, False) for n in range(10)]
        later = (66.5 + 61.0, 66.5 + 64.0, 0.55, False)

        _, runs = kinds_of(PUMP, [*shower, later])

        assert [r.draw_s for r in runs] == pytest.approx([35.0] * 10 + [3.0])
        assert [r.first for r in runs] == [True, *[False] * 9, True]

    def test_every_run_is_drawn_at_its_own_time(self, client_of: ClientOf) -> None:
        """Four hours: each draw's block begins where its start lies on the axis, to a part in a thousand."""
        watch = canned("leaking")
        from_s, to_s = NOW_S - 9 * HOUR_S, NOW_S - 5 * HOUR_S
        strip = strip_of(page_of(client_of, watch, f"?from={from_s:.0f}&to={to_s:.0f}"))
        draws = re.search(r'class="draws" d="([^"]*)"', strip)
        assert draws is not None
        drawn = [float(block[0]) for block in BLOCK.findall(draws[1])]

        record = watch.record
        assert isinstance(record, WaterRecord)
        told = [
            (e.start_s - AT_S + NOW_S - from_s) / (to_s - from_s)
            for e in canned_water.household(NOW_S, AT_S, leak=True)
            if (e.end_s or 0.0) - e.start_s > 1.3 * REFILL_S
        ]
        expected = [x for x in told if 0 < x < 1]
        assert len(expected) > 5
        for x in drawn:
            assert min(abs(x - y) for y in expected) < 0.001
        for y in expected:
            assert min(abs(x - y) for x in drawn) < 0.004

    def test_lone_refills_hang_below_the_line_and_draws_stand_on_it(self, client_of: ClientOf) -> None:
        """Told apart by form: a ring under the line, a block above it."""
        strip = strip_of(page_of(client_of, canned("leaking")))
        line = re.search(r'<line class="ground"[^>]* y1="([\d.]+)%"', strip)
        assert line is not None
        rings = re.findall(r'<circle class="lone" cx="[\d.]+%" cy="([\d.]+)%"', strip)
        draws = re.search(r'class="draws" d="([^"]*)"', strip)
        assert draws is not None
        blocks = BLOCK.findall(draws[1])

        assert rings
        assert all(float(y) > float(line[1]) for y in rings)
        assert blocks
        assert all(100 * float(b[3]) < float(line[1]) == 100 * float(b[1]) for b in blocks)
        assert 'class="longs" d="M' in strip, "the wash-down of six minutes"
        assert "url(#long-1)" in strip

    def test_the_night_is_shaded_and_what_was_not_heard_is_dotted(self, client_of: ClientOf) -> None:
        """The canned signal is missing from 03:12 to 03:48 by the ship's clock (0.3 h about 03:30): of the
        day from Tue 16:00 on that lies from 11.2 h to 11.8 h of 24."""
        strip = strip_of(page_of(client_of, canned("leaking")))
        found = re.search(
            r'<rect x="([\d.]+)%" width="([\d.]+)%" height="100%" fill="url\(#unheard-1\)', strip
        )
        assert found is not None
        begin, width = float(found[1]), float(found[2])

        assert begin == pytest.approx(100 * 11.2 / 24, abs=0.2)
        assert width == pytest.approx(100 * 0.6 / 24, abs=0.3)
        assert 'class="dark"' in strip

    def test_a_single_run_is_told_with_start_length_and_litres(self, client_of: ClientOf) -> None:
        """The wash-down began 13.2 h before Wed 15:21:00, at 02:09:00, and ran 372 s: 68.2 L at 11 L/min."""
        start_s = NOW_S - 13.2 * HOUR_S
        html = page_of(client_of, canned("leaking"), f"?from={start_s - 60:.0f}&to={start_s + 400:.0f}")

        assert "02:09:00.0 6 min 68 L long run" in Words(strip_of(html)).text

    def test_a_lone_refill_is_told_to_a_tenth_of_a_second(self, client_of: ClientOf) -> None:
        alone = Event(
            EventKind.PUMP_RUN, "pressure pump", 1, AT_S - 7200.3, AT_S - 7200.3 + 1.84, {"litres": 0.337}
        )

        class One(CannedRecord):
            def events(self, kind: Any, during: Any) -> Any:
                return [(alone, NOW_S - 7200.3, NOW_S - 7200.3 + 1.84)] if kind == EventKind.PUMP_RUN else []

        watch = canned()
        watch.record = One()
        said = Words(strip_of(page_of(client_of, watch))).text

        # Two hours before 15:21:00.0, less 0.3 s.
        assert "13:20:59.7 1.8 s 0.34 L lone refill" in said

    def test_links_alone_lead_from_the_day_to_a_single_run(self, client_of: ClientOf) -> None:
        """By sixths: a day, a watch of four hours, forty minutes, ...: in five looks at most 30 s."""
        client = client_of(canned("leaking"))
        at_s, address = NOW_S - 13.2 * HOUR_S + 30, "/water"
        spans = []
        for _ in range(8):
            strip = strip_of(client.get(address).text)
            whole = re.search(r'data-from="([\d.]+)" data-to="([\d.]+)"', strip)
            assert whole is not None
            spans.append(float(whole[2]) - float(whole[1]))
            parts = re.findall(r'href="(/water\?from=(\d+)&amp;to=(\d+)#strip)" class="part"', strip)
            here = [p for p in parts if float(p[1]) <= at_s < float(p[2])]
            if not here:
                break
            address = here[0][0].replace("&amp;", "&").partition("#")[0]

        assert spans[:3] == [DAY_S, 4 * HOUR_S, 2400]
        assert spans[-1] <= 90
        assert "02:09:00.0" in strip

    @pytest.mark.parametrize("query", ["?from=5&to=1", "?from=0&to=99999999999", "?from=1&to=1", "?from=7"])
    def test_a_senseless_stretch_is_brought_to_sense(self, query: str, client_of: ClientOf) -> None:
        answer = client_of(canned("leaking")).get(f"/water{query}")

        whole = re.search(r'data-from="(-?[\d.]+)" data-to="(-?[\d.]+)"', answer.text)
        assert answer.status_code == 200
        assert whole is not None
        assert 30 <= float(whole[2]) - float(whole[1]) <= 8 * DAY_S

    @pytest.mark.parametrize("query", ["?from=soon&to=1", "?from=nan&to=1", "?from=-3&to=1"])
    def test_nonsense_is_refused(self, query: str, client_of: ClientOf) -> None:
        assert client_of(canned("leaking")).get(f"/water{query}").status_code == 422

    def test_the_first_stretch_ends_with_the_ships_watch_under_way(self, client_of: ClientOf) -> None:
        """At 15:21 the watch from 12 to 16 is under way: the strip goes from Tue 16:00 to Wed 16:00."""
        assert "Tue 16:00 to Wed 16:00" in text_of(client_of(canned("leaking")), "/water")

    @pytest.mark.parametrize("state", STATES)
    def test_a_page_stays_under_200_kB(self, state: str, client_of: ClientOf) -> None:
        assert len(client_of(canned(state)).get("/water").content) < 200_000

    def test_even_a_pump_that_starts_each_minute_for_a_week_does_not_swell_the_page(
        self, client_of: ClientOf
    ) -> None:
        starts = [NOW_S - 60 * n - 30 for n in range(7 * 1440)]
        busy = [
            (Event(EventKind.PUMP_RUN, "pressure pump", 1, 0.0, 1.0, {"litres": 0.34}), s, s + 1.84)
            for s in reversed(starts)
        ]

        class Busy(CannedRecord):
            def events(self, kind: Any, during: Any) -> Any:
                return busy if kind == EventKind.PUMP_RUN else []

        watch = canned()
        watch.record = Busy()
        page = page_of(client_of, watch, f"?from={NOW_S - 7 * DAY_S:.0f}&to={NOW_S:.0f}")

        assert len(page.encode()) < 200_000
        assert "10080 lone refills" in Words(page).text

    def test_the_record_is_asked_again_only_when_the_pump_has_started_or_after_a_while(
        self, client_of: ClientOf
    ) -> None:
        class Counting(CannedRecord):
            asked = 0

            def events(self, kind: Any, during: Any) -> Any:
                self.asked += kind == EventKind.PUMP_RUN
                return super().events(kind, during)

        watch = canned()
        watch.record = record = Counting()
        client, counts = client_of(watch), []
        for passed_s, starts in ((0, 41.0), (60, 41.0), (61, 42.0), (62, 42.0), (700, 42.0)):
            e = dict(watch.snapshot.estimates)
            e["run_starts", "pressure pump"] = estimate(
                "run_starts", "pressure pump", starts, starts, starts, Reason("tank level")
            )
            watch.snapshot = replace(watch.snapshot, at_s=AT_S + passed_s, estimates=e)
            before = record.asked
            client.get("/water")
            counts.append(record.asked > before)

        assert counts == [True, False, True, False, True]


class TestJudge:
    def test_what_it_loses_and_costs(self, client_of: ClientOf) -> None:
        """0.2 L/h are 4.8 L a day; the plan says that it costs 1.07 days, told in halves rounded down."""
        said = text_of(client_of(canned("leaking")), "/water")

        assert "Leak downstream. 93 in 100 sure" in said
        assert "About 0.20 L/h (0.16 to 0.26 L/h): 4.8 L a day. That costs 1 day of water." in said
        assert "Pump leaks back to the tank 4 in 100" in said

    def test_the_band_lies_where_that_leak_puts_the_rests(self, client_of: ClientOf) -> None:
        """From two minutes at the foot to a day on top, by the logarithm: 0.337 L at 0.2 L/h is 1.68 h. The
        ring of a rest of just that lies on the line."""
        html = page_of(client_of, canned("leaking"))
        plot = re.search(r'<figure class="rests">.*?</figure>', html, re.S)
        assert plot is not None
        line = re.search(r'<line class="leak"[^>]* y1="([\d.]+)%"', plot[0])
        assert line is not None
        rings = [float(y) for y in re.findall(r'<circle class="lone" cx="[\d.]+%" cy="([\d.]+)%"', plot[0])]

        # The record's runs move 11 L/min and last 1.84 s: a rest of 1.84 / 60 * 11 / 0.2 = 1.687 h.
        expected = 100 * (1 - log(1.687 * 3600 / 120) / log(86400 / 120))
        assert float(line[1]) == pytest.approx(expected, abs=0.5)
        assert len(rings) >= 8
        assert sum(abs(y - expected) < 1.0 for y in rings) >= 0.8 * len(rings)
        assert "0.17 L/h" in plot[0].replace("\u00a0", " "), "0.337 L in two hours"

    def test_tight_is_told_with_its_bound(self, client_of: ClientOf) -> None:
        said = text_of(client_of(canned()), "/water")

        assert "Tight. 97 in 100 sure" in said
        assert "any leak is below 0.06 L/h" in said
        assert "Suspected" not in said

    def test_what_is_not_judged_is_not_sure(self, client_of: ClientOf) -> None:
        watch = canned()
        (v,) = watch.snapshot.water.verdicts
        open_ = replace(v, verdict="not enough known yet", probability=0.0, others=(("tight", 0.7),))
        watch.snapshot = replace(watch.snapshot, water=replace(watch.snapshot.water, verdicts=(open_,)))
        said = text_of(client_of(watch), "/water")

        assert "Not enough known yet. " in said
        assert "in 100 sure" not in said
        assert "Tight 70 in 100" in said

    def test_no_bound_is_told_beside_a_suspected_leak(self, client_of: ClientOf) -> None:
        watch = canned("leaking")
        e = dict(watch.snapshot.estimates)
        name, pump = "tight_below_L_per_h", "pressure pump"
        e[name, pump] = estimate(name, pump, 0.62, 0.62, 0.62, Reason("tight to within"))
        watch.snapshot = replace(watch.snapshot, estimates=e)
        assert "Any leak is below" not in text_of(client_of(watch), "/water")

        (v,) = canned().snapshot.water.verdicts
        silent = replace(v, evidence=())
        watch.snapshot = replace(watch.snapshot, water=replace(watch.snapshot.water, verdicts=(silent,)))
        assert "Any leak is below 0.62 L/h." in text_of(client_of(watch), "/water")

    def test_what_is_counted_has_no_band(self, client_of: ClientOf) -> None:
        """Two and a quarter hours, as the clock has them."""
        watch = canned()
        e = dict(watch.snapshot.estimates)
        counted = Reason("counted since the watch began", {"subject": "pressure pump"})
        e["run_hours", "pressure pump"] = estimate("run_hours", "pressure pump", 2.25, 2.25, 2.25, counted)
        watch.snapshot = replace(watch.snapshot, estimates=e)

        assert "Run in all 2 h 15 min 20 s ago" in text_of(client_of(watch), "/water")

    def test_nobody_is_ever_quite_sure(self, client_of: ClientOf) -> None:
        watch = canned()
        (v,) = watch.snapshot.water.verdicts
        watch.snapshot = replace(
            watch.snapshot, water=replace(watch.snapshot.water, verdicts=(replace(v, probability=0.9999),))
        )

        assert "99 in 100 sure" in text_of(client_of(watch), "/water")


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
        assert "its water counts once it is in a tank" in said


def test_what_is_due_first_stands_first(client_of: ClientOf) -> None:
    said = text_of(client_of(canned()), "/water")

    assert said.index("Sanitise the tanks") < said.index("Strainer") < said.index("Carbon filter")
    assert "Sanitise the tanks 190 days of 183 days due now" in said
    assert "Oil generator 12 h of 100 h pace not known" in said


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


def test_the_cautions_are_printed(client_of: ClientOf) -> None:
    said = text_of(client_of(canned()), "/water")

    assert "For information only. Dip the tanks before you rely on them." in said
    assert "no instrument aboard sees germs, salt or fuel in it" in said
    assert "stored hot water scalds" in said
