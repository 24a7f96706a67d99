"""The pump's strip on the page of water: each run at its own time, told apart, and looked into by links."""

import re
from dataclasses import replace
from typing import Any

import pytest

from monitor.clock import DAY_S, HOUR_S
from monitor.records import Event, EventKind, Reason
from tests.web import canned_water
from tests.web.canned import AT_S, NOW_S, STATES, CannedRecord, WaterRecord, canned, estimate, settings
from tests.web.conftest import ClientOf, page_of
from tests.web.test_pages import Words, text_of
from web.presentation.pump_runs import CUT, DRAW, LONE, LONG, kinds_of

PUMP = settings().pumps[0]
BOYLE_L = 1.0 * (1.2 + 1.01325) * (1 / (1.4 + 1.01325) - 1 / (2.8 + 1.01325))
"""Marram's bottle by Boyle's law with absolute pressures, reckoned here: 0.337 L."""
REFILL_S = BOYLE_L / 11 * 60
BLOCK = re.compile(r"M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)Z")


def strip_of(html: str) -> str:
    found = re.search(r'<figure class="barcode".*?</figure>', html, re.S)
    assert found is not None
    return found[0]


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
