"""Draws the icons of an installed page from mark.svg, in Debian's chromium: `python -m tests.web.draw_icons`.

A maskable icon may be cut to a circle of four fifths of its side (W3C, Web Application Manifest: safe
zone): there the mark is smaller, and its ground runs to the edge.
"""

from pathlib import Path

from playwright.sync_api import sync_playwright

STATIC = Path(__file__).parents[2] / "web" / "static"
SAFE = 0.56
"""The side of a square in that circle: 0.8 / sqrt 2."""


def main() -> None:
    mark = (STATIC / "mark.svg").read_text()
    (STATIC / "icons").mkdir(exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        for size, purpose in ((192, "any"), (512, "any"), (512, "maskable")):
            page = browser.new_page(viewport={"width": size, "height": size})
            share = SAFE if purpose == "maskable" else 1.0
            side, edge = size * share, size * (1 - share) / 2
            page.set_content(
                f"<style>body{{margin:0;background:#1f1d19}}svg{{position:absolute;left:{edge}px;top:{edge}px;"
                f"width:{side}px;height:{side}px}}</style>{mark}"
            )
            page.screenshot(path=STATIC / "icons" / f"{purpose}-{size}.png")
        browser.close()


if __name__ == "__main__":
    main()
