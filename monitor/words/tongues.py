"""The languages people read: English texts through gettext catalogues, CLDR's words for numbers and days.

The English text is the message itself; a catalogue is a .po file, read when its language is first wanted.
"""

from datetime import datetime
from functools import lru_cache
from gettext import GNUTranslations, NullTranslations
from io import BytesIO
from pathlib import Path

from babel import Locale
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

ENGLISH = "en"
LANGUAGES = {ENGLISH: "English", "es": "Español", "fr": "Français"}
"""Each by its own name, for whoever looks for it."""
CATALOGUES = Path(__file__).parent / "catalogues"


def N_(text: str) -> str:
    """Marks a text that is translated where it is shown."""
    return text


@lru_cache
def catalogue(language: str) -> NullTranslations:
    """The texts of one of `LANGUAGES`."""
    if language == ENGLISH:
        return NullTranslations()
    packed = BytesIO()
    with (CATALOGUES / f"{language}.po").open("rb") as file:
        write_mo(packed, read_po(file, locale=language))
    packed.seek(0)
    return GNUTranslations(packed)


def translated(text: str, language: str) -> str:
    """The text in that language; as it is where the catalogue lacks it."""
    return catalogue(language).gettext(text) if text else text


def translated_count(one: str, many: str, count: float, language: str) -> str:
    """The form of the text that so many want, by the rule of the language."""
    return catalogue(language).ngettext(one, many, int(count) if count == int(count) else 2)


@lru_cache
def decimal_mark(language: str) -> str:
    """What stands between the whole and its parts: 13.2 or 13,2."""
    return str(_locale(language).number_symbols["latn"]["decimal"])


@lru_cache
def _locale(language: str) -> Locale:
    return Locale.parse(language)


def weekday(at: datetime, language: str) -> str:
    """The short name of the day of the week."""
    return str(_locale(language).days["format"]["abbreviated"][at.weekday()])


def month(at: datetime, language: str) -> str:
    """The short name of the month, as it stands in a date."""
    return str(_locale(language).months["format"]["abbreviated"][at.month])
