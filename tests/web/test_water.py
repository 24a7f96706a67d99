"""The page of water: what it says of tanks, days and plumbing.

The figures on it are the canned ones of `tests.web.canned_water`; times are reckoned here by hand.
"""

import re
from dataclasses import replace
from math import log
from typing import NoReturn

import pytest

from monitor.errors import StorageError
from monitor.records import Reason, WaterPicture
from tests.web.canned import NOW_S, CannedRecord, canned, estimate
from tests.web.conftest import ClientOf, page_of
from tests.web.test_pages import Words, text_of


class TestWhatIsLeft:
    def test_litres_days_and_the_time_to_leave_come_first(self, client_of: ClientOf) -> None:
        """Now is Wed 25 Nov 15:21. 6.5 days on is Wed 2 Dec 03:21, 5.4 days Tue 00:57, 4.2 days Sun 20:09,
        each told by the hour begun."""
        said = text_of(client_of(canned("leaking")), "/water")

        assert "262 L of fresh water are left (256 to 268)." in said
        assert "It likely lasts till Wed 2 Dec, at the least till Tue 00:00." in said
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

    def test_a_tank_that_stands_still_while_the_pump_draws_is_told_in_words(
        self, client_of: ClientOf
    ) -> None:
        """In the drawing and on its own line; of the other, which falls as it should, nothing is said."""
        watch = canned()
        e = dict(watch.snapshot.estimates)
        for tank, share, id in (("forward", 0.0, "not drawn from"), ("midship", 1.0, "in use")):
            told = Reason(f"tank: {id}", {"tank": tank})
            e["tank_share", tank] = estimate("tank_share", tank, share, share, share, told)
        watch.snapshot = replace(watch.snapshot, estimates=e)
        said = text_of(client_of(watch), "/water")

        assert "Forward not drawn from" in said
        assert "Forward 87 L, 83 to 91 L, not drawn from" in said
        assert said.count("It stands still while the pump draws: its valve is likely shut.") == 1
        assert "Midship 175 L, 170 to 180 L, in use" in said
        assert "Of what its pump draws" not in said


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
        assert said.count("any leak is below 0.06 L/h") == 1
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

        said = text_of(client_of(watch), "/water")

        assert "Counted since the watch began: ran 2 h 15 min ." in said

    def test_nobody_is_ever_quite_sure(self, client_of: ClientOf) -> None:
        watch = canned()
        (v,) = watch.snapshot.water.verdicts
        watch.snapshot = replace(
            watch.snapshot, water=replace(watch.snapshot.water, verdicts=(replace(v, probability=0.9999),))
        )

        assert "99 in 100 sure" in text_of(client_of(watch), "/water")


def test_the_cautions_are_printed(client_of: ClientOf) -> None:
    said = text_of(client_of(canned()), "/water")

    assert "For information only. Dip the tanks before you rely on them." in said
    assert "no instrument aboard sees germs, salt or fuel in it" in said
    assert "stored hot water scalds" in said
