"""Every page in chromium at three sizes, in three dresses and three languages, every two of them together.

What is asked: it fits; axe-core (WCAG 2.0 to 2.2, A and AA, and best practices) finds no violation; Ahead
does not move after its first paint, and no page much; the night dress keeps its limits of light.
"""

import base64
from urllib.parse import urlparse

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.web.canned import Server
from tests.web.pages import LIGHT_OF, NINE, PAGES, SIZES

AXE = Axe()
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
SHIFTS = """
window.shifted = 0;
new PerformanceObserver((list) => { for (const e of list.getEntries()) { window.shifted += e.value; } })
  .observe({type: "layout-shift", buffered: true});
"""
SHIFT_MOST = 0.1
"""Of a page but Ahead, which may not move at all: what the Web Vitals call good (from memory)."""
MEAN_MOST, STROKE_MOST, AREA_SHARE = 0.02, 0.35, 0.01


@pytest.mark.parametrize(("size", "light", "language"), NINE)
def test_every_page(size: str, light: str, language: str, browser: Browser, served: Server) -> None:
    w, h = SIZES[size]
    context = browser.new_context(viewport={"width": w, "height": h})
    cookies = {"light": light, "language": language}
    context.add_cookies([{"name": n, "value": v, "url": served.url} for n, v in cookies.items()])
    context.add_init_script(SHIFTS)
    wrong: list[str] = []
    asked: list[str] = []
    measure = context.new_page()
    context.on("request", lambda r: asked.append(r.url))
    context.on("weberror", lambda e: wrong.append(str(e.error)))
    for path in PAGES:
        page = context.new_page()
        page.goto(served.url + path)
        wrong += [f"{path}: {what}" for what in _wrong(page, language, w)]
        if light == "night":
            picture = base64.b64encode(page.screenshot(full_page=True)).decode()
            mean, most, area = measure.evaluate(LIGHT_OF, picture)
            if mean > MEAN_MOST or most > STROKE_MOST or area > AREA_SHARE * w * h:
                wrong.append(f"{path}: light {mean:.4f}, {most:.3f}, {area} points")
        page.close()
    context.close()
    assert wrong == []
    assert [url for url in asked if not url.startswith(served.url)] == []


def _wrong(page: Page, language: str, width: int) -> list[str]:
    found = []
    if page.evaluate("document.documentElement.scrollWidth") > width:
        found.append("stands out to the right")
    if page.evaluate("document.documentElement.lang") != language:
        found.append("in another language")
    at_most = 0.0 if urlparse(page.url).path == "/" else SHIFT_MOST
    if (shifted := page.evaluate("window.shifted")) > at_most:
        found.append(f"moved by {shifted:.4f}")
    told = AXE.run(page, options={"runOnly": {"type": "tag", "values": RULES}}).response["violations"]
    found += [f"{v['id']}: {v['nodes'][0]['target']} {v['nodes'][0]['html'][:120]}" for v in told]
    return found
