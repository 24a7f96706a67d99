"""How quick the first page is in a real browser, and what browsers that look on cost the watch.

Limits: first contentful paint under 0.5 s in chromium slowed down four times, cold cache; no layout shift;
120 kB in all, uncompressed; 20 browsers that look on cost 5 % of a core.
"""

import statistics
import time
from collections.abc import Iterator

from playwright.sync_api import Browser, sync_playwright

from tests.web.canned import CannedWatch, Server, canned
from tests.web.conftest import CHROMIUM, FLAGS
from tests.web.pages import SIZES
from tests.web.test_browser_matrix import SHIFTS

LOADS, SLOWER = 7, 4
LOOKERS, LOOK_S = 20, 30
PAINT = "performance.getEntriesByName('first-contentful-paint')[0].startTime"


def measure() -> Iterator[str]:
    watch = canned("well")
    with sync_playwright() as playwright, Server(watch) as served:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)
        for name, size in SIZES.items():
            paints, shifted, kB = zip(*(_load(browser, served.url, size) for _ in range(LOADS)), strict=True)
            middle, worst = statistics.median(paints), max(paints)
            yield (
                f"Ahead, {name}, {SLOWER}x slower, cold: first paint {middle:.0f} ms, median of {LOADS},"
                f" {worst:.0f} at worst (limit 500); shift {max(shifted):.4f} (0); {kB[0]:.0f} kB (120)"
            )
        yield from _lookers(browser, served.url, watch)
        browser.close()


def _load(browser: Browser, url: str, size: tuple[int, int]) -> tuple[float, float, float]:
    """First paint [ms], shift, and what was sent [kB]."""
    context = browser.new_context(viewport={"width": size[0], "height": size[1]})
    context.add_init_script(SHIFTS)
    page = context.new_page()
    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    sent: list[int] = []
    page.on("response", lambda r: sent.append(0 if r.url.endswith("/live") else len(r.body())))
    page.goto(url, wait_until="load")
    page.wait_for_function(f"({PAINT}) > 0")
    found = page.evaluate(PAINT), page.evaluate("window.shifted"), sum(sent) / 1000
    context.close()
    return found


def _lookers(browser: Browser, url: str, watch: CannedWatch) -> Iterator[str]:
    """A new snapshot each second: what the process takes with nobody looking, and with twenty."""
    alone = _busy(watch)
    contexts = [browser.new_context() for _ in range(LOOKERS)]
    for context in contexts:
        context.new_page().goto(url)
    looked_at = _busy(watch)
    for context in contexts:
        context.close()
    more = 100 * (looked_at - alone)
    yield f"{LOOKERS} that look on cost {more:.1f} % of a core (limit 5; {100 * alone:.1f} % with none)"


def _busy(watch: CannedWatch) -> float:
    """The share of a core that this process takes while a snapshot comes each second."""
    time.sleep(2)
    began_s, cpu_s = time.monotonic(), time.process_time()
    while time.monotonic() - began_s < LOOK_S:
        time.sleep(1)
        watch.tick()
    return (time.process_time() - cpu_s) / (time.monotonic() - began_s)
