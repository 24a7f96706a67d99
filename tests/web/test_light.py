"""Day, dim, night: by the sun, by hand, and readable in each."""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

import web
from tests.web.canned import NIGHTS, NOW_S, CannedWatch, canned
from web.light import chosen, shown

PALETTE = (Path(web.__file__).parent / "static" / "palette.css").read_text()
DUSK_S, DAWN_S = next(n for n in NIGHTS if n[0] > NOW_S)


@pytest.mark.parametrize(
    ("utc_s", "expected"),
    [(NOW_S, "day"), (DUSK_S - 600, "dim"), (DUSK_S, "night"), (DAWN_S - 1, "night"), (DAWN_S + 600, "dim"),
     (DAWN_S + 3600, "day")],
)  # fmt: skip
def test_the_light_follows_the_sun(utc_s: float, expected: str) -> None:
    assert shown("sun", replace(canned().snapshot, utc_s=utc_s)) == expected


def test_a_clock_that_cannot_be_trusted_is_met_with_dim_light() -> None:
    """Daylight drawn at night blinds; dim is never far wrong."""
    for state in ("unconfirmed", "no clock"):
        assert shown("sun", canned(state).snapshot) == "dim"


def test_the_hand_overrides_the_sun_and_nonsense_does_not() -> None:
    assert shown(chosen("night"), canned().snapshot) == "night"
    assert shown(chosen("<b>"), canned().snapshot) == "day"
    assert shown(chosen(None), canned().snapshot) == "day"


def test_a_chosen_light_is_kept_and_can_be_given_back(client: TestClient) -> None:
    """By a small form; the cookie is for this site only and out of reach of scripts."""
    own = {"Origin": "http://127.0.0.1:8080"}
    answer = client.post("/light", data={"light": "night", "back": "/night"}, headers=own)
    cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "samesite=strict" in cookie.lower()
    assert '<html lang="en" class="night">' in client.get("/").text
    client.post("/light", data={"light": "sun"}, headers=own)
    assert '<html lang="en" class="day">' in client.get("/").text


def test_the_ground_is_dark_before_any_style_arrives(client: TestClient, well: CannedWatch) -> None:
    """No white flash: the colour scheme stands in the head before the first style sheet."""
    client.cookies.set("light", "night")
    html = client.get("/").text
    assert html.index('name="color-scheme" content="dark"') < html.index('rel="stylesheet"')


def _luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance of an sRGB colour."""
    full = colour if len(colour) == 7 else "#" + "".join(c * 2 for c in colour[1:])
    parts = [int(full[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def _palettes() -> dict[str, dict[str, str]]:
    rules = re.findall(r"(:root|\.dim|\.night) \{([^}]*)\}", PALETTE)
    return {name: dict(re.findall(r"--([\w-]+): (#\w+)", body)) for name, body in rules}


@pytest.mark.parametrize("light", [":root", ".dim", ".night"])
def test_words_can_be_read_in_every_light(light: str) -> None:
    """WCAG 2.2 criterion 1.4.3: 4.5 to 1 for text, on the sheet and on the shaded nights; and of the
    night dress: black ground, no ink brighter than 0.35, each hue apart from the other in lightness
    or pattern only (never by red and green)."""
    colours = _palettes()[light]
    for ground in ("paper", "dark"):
        for ink in ("ink", "pencil", "energy", "water"):
            lighter, darker = sorted((_luminance(colours[ink]), _luminance(colours[ground])), reverse=True)
            assert (lighter + 0.05) / (darker + 0.05) >= 4.5, (light, ink, ground)
    if light == ".night":
        assert _luminance(colours["paper"]) == 0
        assert all(_luminance(c) <= 0.35 for c in colours.values())
