"""The sun that a full bank turns down."""

import json
from array import array
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from string import Formatter

import numpy as np
import pytest

from monitor.estimation.sun import clear_sky_W_per_m2
from monitor.estimation.surplus import SurplusWatch, heated_L
from monitor.estimation.watcher import Heard
from monitor.records import Column, Estimate, Mode, Reading, Reason
from monitor.settings import Settings
from monitor.settings_file import parse_settings
from monitor.words.say import SENTENCES, say
from monitor.words.units import UNKNOWN, Dress

DAY_S = 86400.0
MIDNIGHT_S = datetime(2026, 6, 1, tzinfo=UTC).timestamp()
HERE = (42.55, -8.90)
GAIN_M2 = 0.4
"""What the modelled panels make of one W/m2 of clear sky."""


def boat(more: str = "") -> Settings:
    return parse_settings(
        f"""
        [boat]
        name = "Test"
        latitude = {HERE[0]}
        longitude = {HERE[1]}
        [[banks]]
        name = "house"
        nominal_V = 12.8
        capacity_Ah = 460
        [[chargers]]
        name = "panels"
        kind = "sun"
        into = "house"
        rated_W = 520
        """
        + more,
        Path(),
    )


HEATER = '[[heaters]]\nname = "water heater"\nvolume_L = 40\n'
WATERMAKER = '[[watermakers]]\nname = "watermaker"\n'


class Aboard:
    """Panels under a sky of one clearness a day. From `full_from` to `full_until` (hours of UTC) the bank
    takes no more than `takes_W`."""

    def __init__(self, settings: Settings | None = None) -> None:
        self.watch = SurplusWatch(settings or boat())
        self.thrown_Wh = 0.0
        self.by_hour = np.ones(24)
        """What shade leaves of the panels in each hour of UTC."""

    def day(
        self,
        number: int,
        clearness: float = 1.0,
        full_from: float = 24.0,
        full_until: float = 24.0,
        takes_W: float = 0.0,
        until: float = 24.0,
        by_volts: bool = False,
        meter: bool = True,
        float_after: float = 24.0,
    ) -> "Aboard":
        """Live through a day, up to an hour of it. What is thrown away is summed minute by minute."""
        self.thrown_Wh = 0.0
        utc_s = MIDNIGHT_S + number * DAY_S + 60.0 * np.arange(round(until * 60), dtype=np.float64)
        could_W = GAIN_M2 * clearness * clear_sky_W_per_m2(*HERE, utc_s + 30.0)
        could_W *= self.by_hour[(utc_s // 3600 % 24).astype(int)]
        for n, (at_s, watts) in enumerate(zip(utc_s.tolist(), could_W.tolist(), strict=True)):
            if watts == 0.0 and n > 0:
                continue
            full = full_from <= n / 60 < full_until
            given_W = min(watts, takes_W) if full else watts
            self.thrown_Wh += (watts - given_W) / 60
            pct, volts = (99.0, 13.4) if full and not by_volts else (80.0, 14.2 if full else 13.4)
            if full and n / 60 >= full_from + float_after:
                pct, volts = 95.0, 13.5
            said = {"house voltage": volts, "house current": given_W / 13.4 - 5.0} | (
                {"panels power": given_W} if meter else {}
            )
            self.minute(at_s, said, pct)
        return self

    def minute(self, utc_s: float | None, said: dict[str, float], pct: float | None = 80.0) -> "Aboard":
        at_s = 0.0 if utc_s is None else utc_s - MIDNIGHT_S
        columns = {n: Column(array("d", [at_s + 30]), array("d", [v])) for n, v in said.items()}
        readings = {n: Reading(at_s + 30, v, False) for n, v in said.items()}
        charge = Estimate("charge_pct", "house", at_s, pct, None, None, Reason("charge counted"))
        self.watch.take(
            Heard(
                at_s,
                utc_s,
                1,
                columns,
                readings,
                Mode("at anchor", "awake"),
                {("charge_pct", "house"): charge},
            )
        )
        return self

    @property
    def wasted(self) -> Estimate:
        (estimate,) = self.watch.estimates()
        assert (estimate.name, estimate.subject) == ("wasted_Wh", "house")
        return estimate


@cache
def _learned() -> str:
    aboard = Aboard()
    for number in range(6):
        aboard.day(number)
    return json.dumps(aboard.watch.state())


def after_six_clear_days(settings: Settings | None = None) -> Aboard:
    aboard = Aboard(settings)
    aboard.watch.restore(json.loads(_learned()))
    return aboard


def test_litres_heated_by_the_handbook() -> None:
    """20 L by 45 K take 1046.5 Wh, 40 L by 50 K 2325.6 Wh (4.186 kJ/kg K); by IAPWS-97 from 15 to 60
    degrees 188.12 kJ/kg, which is 1045 Wh for 20 kg: within 0.5 %. 1.4 kWh heat 30 L by 40 K."""
    assert heated_L(1046.5, 45) == pytest.approx(20.0, rel=1e-3)
    assert heated_L(2325.6, 50) == pytest.approx(40.0, rel=1e-3)
    assert heated_L(20 * 188.12 / 3.6, 45) == pytest.approx(20.0, rel=5e-3)
    assert heated_L(1400, 40) == pytest.approx(30.0, abs=0.1)
    assert heated_L(1400, 40, 0.9) == pytest.approx(27.0, abs=0.1)


def test_a_clear_day_after_clear_days_is_known_to_a_few_per_cent() -> None:
    """Full from 11:00 UTC on with 60 W taken: what the panels could have made is the model itself."""
    aboard = after_six_clear_days().day(6, full_from=11.0, takes_W=60.0)

    assert aboard.thrown_Wh > 800
    assert aboard.wasted.value == pytest.approx(aboard.thrown_Wh, rel=0.03)


def test_a_dull_day_throws_less_away() -> None:
    """The sky of the forenoon, half as clear as the days before, is taken for the afternoon's."""
    aboard = after_six_clear_days().day(6, clearness=0.5, full_from=13.0, takes_W=30.0)

    assert aboard.wasted.value == pytest.approx(aboard.thrown_Wh, rel=0.10)
    assert aboard.wasted.low is not None
    assert aboard.wasted.high is not None
    assert aboard.wasted.low < aboard.thrown_Wh < aboard.wasted.high


def test_a_held_voltage_is_as_good_as_a_count() -> None:
    aboard = after_six_clear_days().day(6, full_from=11.0, takes_W=60.0, by_volts=True)

    assert aboard.wasted.value == pytest.approx(aboard.thrown_Wh, rel=0.03)


def test_a_bank_on_float_turns_the_sun_down_as_well() -> None:
    """Three quarters of an hour after it was full the charger lets it down to 13.5 V, where a lithium bank
    rests at some 95 % (LFP open-circuit voltage 3.369 V a cell, C/27)."""
    aboard = after_six_clear_days().day(6, full_from=11.0, takes_W=60.0, float_after=0.75)

    assert aboard.wasted.value == pytest.approx(aboard.thrown_Wh, rel=0.03)


def test_the_morning_after_it_takes_again() -> None:
    """Still at 95 % at dawn, after a night of loads: what a dull morning gives is all it could."""
    aboard = after_six_clear_days().day(6, full_from=12.0, takes_W=60.0, float_after=0.75)
    aboard.minute(
        MIDNIGHT_S + 7 * DAY_S, {"house current": -5.0, "house voltage": 13.3, "panels power": 0.0}, 95.0
    )
    dull_W = (
        0.3 * GAIN_M2 * clear_sky_W_per_m2(*HERE, MIDNIGHT_S + 7 * DAY_S + 8 * 3600 + 60.0 * np.arange(120.0))
    )
    for n, watts in enumerate(dull_W.tolist()):
        said = {"house current": watts / 13.4 - 5.0, "house voltage": 13.3, "panels power": watts}
        aboard.minute(MIDNIGHT_S + 7 * DAY_S + 8 * 3600 + 60.0 * n, said, 95.0)

    assert aboard.wasted.value == 0.0


def test_on_mains_it_stays_on_float_through_the_night() -> None:
    """It gives a little until it has sunk to the charger's 13.5 V; nobody takes the sun in the morning."""
    aboard = Aboard(boat('[[supplies]]\nname = "shore"\n'))
    aboard.watch.restore(json.loads(_learned()))
    dusk_s = MIDNIGHT_S + 5 * DAY_S + 23 * 3600
    mains = {"shore ac voltage": 230.0, "panels power": 0.0}
    aboard.minute(dusk_s, {"house voltage": 14.2, "house current": 5.0} | mains, 99.0)
    aboard.minute(dusk_s + 60, {"house voltage": 13.6, "house current": -8.0} | mains, 96.0)
    for n in range(120):
        said = {"house voltage": 13.5, "house current": 0.0} | mains
        aboard.minute(dusk_s + 10 * 3600 + 60.0 * n, said, 95.0)

    assert aboard.wasted.value is not None
    assert aboard.wasted.value > 100.0


def test_a_bank_that_takes_all_throws_nothing_away() -> None:
    aboard = after_six_clear_days().day(6)

    assert aboard.wasted.value == 0.0
    assert aboard.wasted.reason.id == "surplus: none to speak of"


def test_a_full_bank_whose_loads_take_all_throws_nothing_away() -> None:
    aboard = after_six_clear_days().day(6, full_from=11.0, takes_W=1000.0)

    assert aboard.wasted.value == pytest.approx(0.0, abs=40.0)


def test_full_days_teach_no_small_gain() -> None:
    """A week of full afternoons, with little taken, does not make the array look small."""
    aboard = Aboard()
    for number in range(8):
        aboard.day(number, full_from=12.0, takes_W=50.0)

    assert aboard.wasted.value == pytest.approx(aboard.thrown_Wh, rel=0.05)


def test_shade_has_its_hours() -> None:
    """A mast that halves the panels until noon tells nothing of the afternoon."""
    aboard = Aboard()
    aboard.by_hour[:12] = 0.5
    for number in range(6):
        aboard.day(number)
    aboard.day(6, full_from=13.0, takes_W=60.0)

    assert aboard.wasted.value == pytest.approx(aboard.thrown_Wh, rel=0.05)


def test_yesterdays_sky_is_not_todays() -> None:
    """One dull day is part of what is usual, no more: full from the morning on, the clear day after it is
    taken for a usual one."""
    aboard = after_six_clear_days().day(6, clearness=0.3).day(7, full_from=0.0, takes_W=40.0)

    assert aboard.wasted.value == pytest.approx(aboard.thrown_Wh, rel=0.35)


def test_a_bank_full_since_yesterday_has_a_wide_band() -> None:
    """Nothing was learned of today's sky: the usual one counts, with a band that reaches far."""
    aboard = after_six_clear_days().day(6, clearness=0.7, full_from=0.0, takes_W=40.0)
    narrow = after_six_clear_days().day(6, clearness=0.7, full_from=13.0, takes_W=40.0)
    wide = aboard.wasted

    assert wide.low is not None
    assert wide.high is not None
    assert wide.low < aboard.thrown_Wh < wide.high
    assert narrow.wasted.low is not None
    assert wide.low / aboard.thrown_Wh < narrow.wasted.low / narrow.thrown_Wh


def test_unknown_is_told_and_not_zero() -> None:
    aboard = Aboard()
    assert aboard.wasted.value is None

    aboard.minute(None, {"panels power": 200.0})
    assert (aboard.wasted.value, aboard.wasted.reason.id) == (None, "surplus: no clock")

    aboard.minute(MIDNIGHT_S, {"panels power": 0.0})
    assert (aboard.wasted.value, aboard.wasted.reason.id) == (None, "surplus: not known yet")

    silent = Aboard().day(0, meter=False)
    assert silent.wasted.value is None


def test_a_day_that_was_full_before_the_panels_were_known_stays_unknown() -> None:
    """The gain may be learned in the same afternoon: what went before it was not seen."""
    aboard = Aboard().day(0, full_from=6.0, full_until=9.0, takes_W=20.0)

    assert aboard.wasted.value is None
    assert aboard.day(1).wasted.value == 0.0


def test_an_unknown_charge_teaches_nothing() -> None:
    """A bank on float stands below its full voltage: only the count tells that it takes no more."""
    aboard = Aboard()
    for number in range(5):
        for hour in range(8, 16):
            for n in range(60):
                aboard.minute(
                    MIDNIGHT_S + number * DAY_S + hour * 3600 + n * 60,
                    {"panels power": 20.0, "house voltage": 13.5},
                    None,
                )

    assert aboard.wasted.value is None


def test_no_panels_no_estimate() -> None:
    bare = parse_settings('[boat]\nname = "Test"\n[[banks]]\nname = "house"\ncapacity_Ah = 100', Path())

    assert SurplusWatch(bare).estimates() == []


def test_a_day_begins_anew_at_the_ships_midnight() -> None:
    aboard = after_six_clear_days().day(6, full_from=11.0, takes_W=60.0).day(7, until=0.1)

    assert aboard.wasted.value == 0.0


def test_a_restart_at_noon_loses_nothing() -> None:
    aboard = after_six_clear_days().day(6, full_from=10.0, takes_W=60.0, until=13.0)
    kept = json.dumps(aboard.watch.state())
    again = Aboard()
    again.watch.restore(json.loads(kept))
    again.minute(MIDNIGHT_S + 6 * DAY_S + 13 * 3600, {"panels power": 60.0, "house voltage": 13.4}, 99.0)

    assert again.wasted.value == pytest.approx(aboard.wasted.value, rel=0.02)
    assert again.wasted.reason.id == aboard.wasted.reason.id
    assert len(kept) < 2000


@pytest.mark.parametrize(
    ("more", "id", "told"),
    [
        ("", "surplus: thrown away", "thrown away."),
        (HEATER, "surplus: heat", "enough to heat"),
        (WATERMAKER, "surplus: make", "enough to make"),
        (HEATER + WATERMAKER, "surplus: heat or make", "or to make"),
    ],
)
def test_what_it_would_have_done_is_what_is_aboard(more: str, id: str, told: str) -> None:
    aboard = after_six_clear_days(boat(more)).day(6, full_from=11.0, takes_W=60.0)
    reason = aboard.wasted.reason
    text = say(reason, Dress())

    assert reason.id == id
    assert told in text
    assert text.startswith("Full at 11:00")
    assert UNKNOWN not in text
    assert ("scalds" in text) == bool("heater" in more)
    fields = {name for _, name, _, _ in Formatter().parse(SENTENCES[id]) if name}
    assert fields <= reason.facts.keys()


def test_the_sentence_of_the_handbook_case() -> None:
    """1.4 kWh heat 30 L by 40 K; at 15 and 4 Wh/L (common practice) they are 93 to 350 L of water."""
    facts = {
        "full_s": MIDNIGHT_S + 12 * 3600 + 2400, "wasted_Wh": 1400.0, "heat_L": heated_L(1400, 40),
        "make_L": 1400 / 15, "make_most_L": 1400 / 4,
    }  # fmt: skip
    text = say(Reason("surplus: heat or make", facts), Dress()).replace("\u00a0", " ")

    assert text.startswith(
        "Full at 12:40: about 1.4 kWh thrown away, enough to heat 30 L by 40 °C (72 °F), or to make 93 L of"
        " water, 350 L with energy recovery."
    )
