"""Numbers as people read them."""

import math
from datetime import UTC
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.words.units import (
    FAHRENHEIT,
    FORMATS,
    IMPERIAL_GALLONS,
    PSI,
    US_GALLONS,
    Dress,
    bar,
    clock,
    date,
    days,
    days_between,
    litres,
    moment,
    rate,
    span,
    temp,
    wh,
)

PLAIN = Dress(UTC)
MADRID = Dress(ZoneInfo("Europe/Madrid"))


def told(text: str) -> str:
    """With the unbreaking spaces made plain."""
    return text.replace("\u00a0", " ")


def test_gallons_are_the_legal_ones() -> None:
    """NIST Handbook 44, appendix C: 1 US gallon = 3.785 412 L; UK Units of Measurement Regulations
    1995: 1 gallon = 4.546 09 L."""
    assert told(litres(37.85412, Dress(UTC, volume=US_GALLONS))) == "10 US gal"
    assert told(litres(9.09218, Dress(UTC, volume=IMPERIAL_GALLONS))) == "2.0 imp gal"


def test_pressure_and_temperature_in_other_units() -> None:
    """NIST SP 811: 1 psi = 6894.757 Pa, so 2.8 bar = 40.6 psi; 100 °C = 212 °F by definition."""
    assert told(bar(2.8, Dress(UTC, pressure=PSI))) == "41 psi"
    assert told(temp(100.0, Dress(UTC, temperature=FAHRENHEIT))) == "212 °F"


def test_a_small_rate_is_not_rounded_to_none() -> None:
    assert [told(rate(q, PLAIN)) for q in (0.0, 0.0034, 0.2, 3.26, 12.4)] == [
        "0.00 L/h", "0.003 L/h", "0.20 L/h", "3.3 L/h", "12 L/h",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("seconds", "expected"),
    [(0, "0 s"), (40, "40 s"), (59.4, "59 s"), (59.6, "1 min"), (3600, "1 h"), (12_000, "3 h 20 min"),
     (36_000, "10 h"), (86_400, "24 h"), (518_400, "6 days")],
)  # fmt: skip
def test_spans(seconds: float, expected: str) -> None:
    """Worked by hand: 12 000 s = 3 h 20 min; 518 400 s = 6 days."""
    assert told(span(seconds, PLAIN)) == expected


@pytest.mark.parametrize(
    ("cautious", "likely", "beyond", "expected"),
    [
        (2.6, 4.2, False, "2½ to 4 days"),
        (4.2, 10.0, True, "4 to 10+ days"),
        (10.0, 10.0, True, "10+ days"),
        (0.7, 1.9, False, "16 hours to 1½ days"),
        (0.3, 0.6, False, "7 to 14 hours"),
        (1.0, 1.2, False, "1 day"),
        (None, None, False, "unknown"),
        (math.nan, math.nan, False, "unknown"),
    ],
)
def test_days_left_cautious_to_likely(
    cautious: float | None, likely: float | None, beyond: bool, expected: str
) -> None:
    """The cautious day first, both rounded down: 0.7 d = 16.8 h is told as 16 hours."""
    assert told(days_between(cautious, likely, beyond, PLAIN)) == expected


@given(st.floats(0, 40))
def test_days_never_promise_more_than_there_is(value: float) -> None:
    """Rounding goes down, whatever the number."""
    figure, unit = told(days(value, PLAIN)).split(" ")
    shown = float(figure.replace("½", ".5").replace("+", "") if figure != "½" else "0.5")
    assert shown / (24 if unit.startswith("hour") else 1) <= value + 1e-9


def test_the_ships_clock_follows_summer_time() -> None:
    """The tz database: on 25 Oct 2026 at 01:00 UTC Spain goes from UTC+2 to UTC+1."""
    before_s = 1_792_889_940.0  # 2026-10-25 00:59 UTC
    assert clock(before_s, MADRID) == "Sun 02:59"
    assert clock(before_s + 60, MADRID) == "Sun 02:00"
    assert date(before_s, MADRID) == "Sun 25 Oct"


def test_a_moment_within_six_days_is_a_weekday_and_beyond_a_date() -> None:
    """Two Thursdays must not be told alike."""
    now_s = 1_792_889_940.0
    assert moment(now_s + 86_400, now_s, MADRID) == "Mon 01:59"
    assert moment(now_s + 9 * 86_400, now_s, MADRID) == "Tue 3 Nov"


def test_energy_becomes_kilowatt_hours_at_a_thousand() -> None:
    assert told(wh(999.4, PLAIN)) == "999 Wh"
    assert told(wh(999.6, PLAIN)) == "1.0 kWh"
    assert told(wh(-840, PLAIN)) == "\u2212840 Wh"


@given(st.sampled_from(sorted(FORMATS)), st.floats(-1e6, 4e9))
def test_every_format_tells_every_number(name: str, value: float) -> None:
    """No format fails, none writes a negative zero."""
    text = FORMATS[name](value, MADRID)
    assert text
    assert not text.startswith(("\u22120\u00a0", "-"))
