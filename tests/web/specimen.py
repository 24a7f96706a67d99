"""Every card in every state on one sheet, from canned data: `python -m tests.web.specimen --port 8090`.

What a change of the look does is seen here at once. `?light=night`, `?language=fr` as the pages have them by
cookie; each part is what htmx would be sent for that page in that state.
"""

import argparse

import uvicorn
from fastapi import FastAPI
from fastapi.testclient import TestClient
from markupsafe import Markup, escape
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from tests.web.canned import STATES, canned
from tests.web.pages import PAGES
from web.app import Kept, create_app
from web.choices import CHOICES
from web.light import LIGHTS
from web.render import HERE, static

STYLES = (
    "palette.css", "page.css", "alerts.css", "hold.css", "ahead.css", "night.css", "water.css", "power.css",
    "loads.css", "log.css", "history.css", "alert_pages.css", "fit_out.css", "reading.css", "rights.css",
)  # fmt: skip
PAGES_OF_ALL = ("/", "/water", "/power", "/night", "/alerts")
"""These in every state; every other page once."""


def parts(cookies: dict[str, str]) -> list[tuple[str, str, Markup]]:
    """(state, page, what stands on it)."""
    found = []
    for state in STATES:
        client = TestClient(
            create_app(canned(state)), base_url="http://127.0.0.1", cookies=cookies,
            headers={"HX-Request": "true"},
        )  # fmt: skip
        for path in PAGES if state == "well" else PAGES_OF_ALL:
            answer = client.get(path)
            if answer.headers["content-type"].startswith("text/html") and "<html" not in answer.text:
                found.append((state, path, Markup(answer.text)))
    return found


def sheet(light: str, language: str) -> str:
    links = "".join(
        f'<link rel="stylesheet" href="{static(s)}">' for s in STYLES if (HERE / "static" / s).exists()
    )
    cards = [
        f'<section><h2 class="specimen">{escape(state)}: {escape(path)}</h2>{card}</section>'
        for state, path, card in parts({"light": light, "language": language})
    ]
    dresses = " ".join(
        f'<a href="?light={a}&amp;language={b}">{a}, {b}</a>'
        for a in LIGHTS
        for b in CHOICES["language"].among
    )
    return (
        f'<!doctype html><html lang="{language}" class="{light}"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><title>Specimen</title>{links}'
        f"</head><body><p>{dresses}</p>{''.join(cards)}</body></html>"
    )


def specimen() -> FastAPI:
    app = FastAPI()
    app.mount("/static", Kept(directory=HERE / "static"))

    @app.get("/")
    def page(request: Request) -> Response:
        light, language = request.query_params.get("light", ""), request.query_params.get("language", "")
        light = light if light in LIGHTS else LIGHTS[0]
        language = language if language in CHOICES["language"].among else "en"
        return HTMLResponse(sheet(light, language))

    return app


def main() -> None:
    parser = argparse.ArgumentParser(description="Every card in every state on one sheet.")
    parser.add_argument("--port", type=int, default=8090)
    uvicorn.run(specimen(), host="127.0.0.1", port=parser.parse_args().port)


if __name__ == "__main__":
    main()
