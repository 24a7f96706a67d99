"""Every text in every language, its gaps whole; numbers and days as CLDR has them (through babel)."""

from datetime import UTC, datetime
from string import Formatter

import pytest
from babel.dates import format_date
from babel.numbers import format_decimal
from hypothesis import given
from hypothesis import strategies as st

from monitor.words.tongues import LANGUAGES, catalogue, translated, translated_count
from monitor.words.units import GAP, MINUS, Dress, between, date, fixed, wh
from tests.catalogues import kept, lacking

OTHERS = [language for language in LANGUAGES if language != "en"]


def gaps(text: str) -> list[str]:
    return sorted(f"{name}:{spec}" for _, name, spec, _ in Formatter().parse(text) if name is not None)


@pytest.mark.parametrize("language", OTHERS)
def test_nothing_lacks_its_translation_and_nothing_is_kept_that_nobody_says(language: str) -> None:
    assert lacking(language) == []


@pytest.mark.parametrize("language", OTHERS)
def test_a_translation_has_the_gaps_of_its_text(language: str) -> None:
    """The same facts in the same formats, in whatever order; tags of a page stay."""
    wrong = []
    for message in kept(language):
        one, told = message.id, message.string
        if one and isinstance(one, str) and isinstance(told, str) and told:
            wrong += [one] * (gaps(told) != gaps(one) or told.count("<") != one.count("<"))
    assert wrong == []


@pytest.mark.parametrize("language", LANGUAGES)
@given(value=st.floats(-9e5, 9e5), decimals=st.integers(0, 3))
def test_a_decimal_mark_is_the_languages_own(language: str, value: float, decimals: int) -> None:
    """CLDR, without its grouping; our minus is the sign U+2212, and nothing is never negative."""
    pattern = "0." + "0" * decimals if decimals else "0"
    value = float(f"{value:.{decimals}f}") + 0.0
    expected = format_decimal(value, format=pattern, locale=language).replace("-", MINUS)
    assert fixed(value, decimals, Dress(language=language)) == expected


@pytest.mark.parametrize("language", LANGUAGES)
@given(utc_s=st.integers(1_577_836_800, 2_208_988_800))
def test_a_day_and_its_month_are_named_as_cldr_has_them(language: str, utc_s: int) -> None:
    told = date(utc_s, Dress(language=language))
    assert told == format_date(datetime.fromtimestamp(utc_s, UTC), "EEE d MMM", locale=language)


def test_ampere_hours_are_told_with_their_voltage() -> None:
    """3,994 Wh at 12.8 V are 312 Ah by P = U I; a band has the unit once."""
    dress = Dress(energy="Ah", nominal_V=12.8)
    assert wh(3993.6, dress) == f"312{GAP}Ah{GAP}at{GAP}12.8{GAP}V"
    assert between(wh(3840, dress), wh(4096, dress), dress) == f"300 to 320{GAP}Ah{GAP}at{GAP}12.8{GAP}V"


@pytest.mark.parametrize("language", OTHERS)
def test_one_and_many_have_their_forms(language: str) -> None:
    """CLDR: in French nothing is one, in Spanish it is many."""
    one, many = (translated_count("day", "days", n, language) for n in (1, 2))
    assert one != many
    assert translated_count("day", "days", 0, language) == (one if language == "fr" else many)


def test_a_text_that_nobody_translated_is_said_in_english() -> None:
    assert translated("no such text", "es") == "no such text"
    assert translated("", "es") == ""
    assert catalogue("es") is catalogue("es")
