"""What the pages of water and power say of boats that are not as they should be."""

import pytest
from playwright.sync_api import Page

from tests.web.canned import CannedWatch, canned
from tests.web.conftest import PHONE, ClientOf, Opened
from tests.web.test_pages import Words, text_of


def test_a_silent_bank_is_told_first_and_its_numbers_as_old(client_of: ClientOf) -> None:
    said = text_of(client_of(canned("silent bank")), "/power")

    assert (
        "The house bank is at 64 % (48 to 75), last full 25 h ago. Its current has been silent for 3 h."
        in said
    )
    assert "The house bank gives 151 W silent for 3 h" in said
    assert "Whether to charge is not known: there is no forecast." in said


def test_tanks_without_a_sender_ask_to_be_dipped_and_offer_no_filling(client_of: ClientOf) -> None:
    page = Words(client_of(canned("no senders")).get("/water").text)

    assert "How much fresh water is left is unknown: dip the tanks." in page.text
    assert page.text.count("Dipped: usable, in L") == 3
    assert "I am filling it now" not in page.text


def test_a_boat_without_a_bank_is_not_asked_what_to_run(client_of: ClientOf) -> None:
    said = text_of(client_of(canned("no senders")), "/power")

    assert "the settings name no bank" in said
    assert "Can I run it now?" not in said


class TestNamesAsLongAsTheyMayBe:
    """Sixty letters each: what is read on a phone finds its room."""

    @pytest.fixture
    def watch(self) -> CannedWatch:
        return canned("long names")

    @pytest.mark.parametrize("path", ["/power", "/water"])
    def test_nothing_sticks_out_of_a_phone(self, path: str, opened: Opened) -> None:
        page: Page = opened(path, PHONE)

        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE[0]

    def test_the_drawn_names_stay_within_their_tanks(self, opened: Opened) -> None:
        page: Page = opened("/water", PHONE)
        over = """() => [...document.querySelectorAll(".vessel")].filter(v => {
            const box = v.querySelector(".wall").getBoundingClientRect();
            return [...v.querySelectorAll("text")].some(t => {
                const own = t.getBoundingClientRect();
                return own.left < box.left - 2 || own.right > box.right + 2; }); }).length"""

        assert page.evaluate(over) == 0
