"""Ahead at a glance: few words in the first screenful of a phone, in the reader's language and units."""

import re

from playwright.sync_api import Page

from tests.web.canned import canned
from tests.web.conftest import PHONE, ClientOf, Opened

MOST_WORDS = 60
"""A limit of our own: what is read in some 15 s at four words a second (common practice)."""
VISIBLE = """() => {
  const found = [], walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const text = walker.currentNode;
    if (!text.parentElement.checkVisibility({visibilityProperty: true})) { continue; }
    for (const word of text.data.matchAll(/[^ \\n\\t]+/g)) {
      const range = document.createRange();
      range.setStart(text, word.index);
      range.setEnd(text, word.index + word[0].length);
      const box = range.getBoundingClientRect();
      if (box.width > 1 && box.bottom > 0 && box.right > 0 && box.top < innerHeight) { found.push(word[0]); }
    }
  }
  return found;
}"""
"""Every word that shows in the first screenful; a number and its unit have a space that does not break."""


def words_of(page: Page) -> list[str]:
    found: list[str] = page.evaluate(VISIBLE)
    return found


def test_the_first_screenful_of_a_phone_answers_in_sixty_words(opened: Opened) -> None:
    """Navigation, marks of the axis and the note on sound among them. It says how many days of each, from
    cautious to likely, what sets them, what to do by when, and how sure."""
    page = opened("/", PHONE)
    page.locator("#sound .unarmed:visible").wait_for()
    words = words_of(page)
    assert len(words) <= MOST_WORDS, " ".join(words)
    said = " ".join(words)
    for answer in (
        "4½ to 6\u00a0days", "Charge by Mon 05:00.", "5 to 6\u00a0days", "Fill by Tue 00:00.",
        "From 21\u00a0days at anchor; the first number holds 9 in 10.", "69\u00a0%", "262\u00a0L",
    ):  # fmt: skip
        assert answer in said


def test_ahead_in_spanish_has_the_days_and_marks_of_cldr(client_of: ClientOf) -> None:
    """CLDR, es: Monday is "lun", the decimal mark a comma; the page says its language."""
    client = client_of(canned("well"))
    client.cookies.set("language", "es")
    page = client.get("/").text
    assert '<html lang="es"' in page
    assert "lun 05:00" in page
    assert re.search(r'class="day[^"]*"[^>]*>jue<', page)
    assert "4,0\u00a0kWh" in page
    assert "Mon " not in page
    assert not re.search(r"\d\.\d+\u00a0", page)


def test_ahead_in_ampere_hours_and_gallons(client_of: ClientOf) -> None:
    """4050 Wh / 12.8 V = 316 Ah; 262 L / 3.785411784 = 69.2 US gal (231 cubic inches)."""
    client = client_of(canned("well"))
    client.cookies.set("energy", "Ah")
    client.cookies.set("volume", "US gal")
    page = client.get("/").text
    assert "316\u00a0Ah\u00a0at\u00a012.8\u00a0V" in page
    assert "69\u00a0US gal" in page
    assert "kWh" not in page
