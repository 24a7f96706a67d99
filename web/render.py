"""Templates to answers: a page whole, or the part of it that htmx fetches again, from one template."""

import hashlib
from collections.abc import Hashable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from monitor.records import Snapshot
from monitor.words.tongues import ENGLISH, LANGUAGES, N_, catalogue
from web import light
from web.choices import brightness
from web.presentation.figures import Reader
from web.presentation.frame import PEOPLE_TO_CHOOSE, PLACES_TO_CHOOSE, frame
from web.rights import acting_of

HERE = Path(__file__).parent
GROUNDS = {"day": "#f5f0e3", "dim": "#1f1d19", "night": "#000000"}
"""The papers of palette.css, for what a browser or a phone draws around the page."""
NAVIGATION = (
    ("/", "Ahead"),
    ("/night", "Night"),
    ("/water", "Water"),
    ("/power", "Power"),
    ("/log", "Log"),
    ("/fit-out", N_("Fit-out")),
)


@dataclass(frozen=True, slots=True)
class Page:
    """`live` pages are fetched again with each snapshot; `styles` and `scripts` are theirs alone. A `still`
    one is typed into: without JavaScript it is not loaded anew under the pen."""

    template: str
    title: str
    styles: tuple[str, ...] = ()
    scripts: tuple[str, ...] = ()
    live: bool = True
    still: bool = False


@lru_cache
def environment(language: str = ENGLISH) -> Environment:
    """The templates in that language, compiled once: the first reader need not wait for it."""
    env = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n"],
    )
    env.policies["ext.i18n.trimmed"] = True
    texts = catalogue(language)
    env.install_gettext_callables(  # type: ignore[attr-defined]
        texts.gettext, texts.ngettext, newstyle=True, pgettext=texts.pgettext
    )
    env.globals["static"] = static
    env.filters["percent"] = percent
    env.filters["figure"] = lambda value: f"{value:.4f}".rstrip("0").rstrip(".")
    for name in env.list_templates():
        env.get_template(name)
    return env


@lru_cache
def static(name: str) -> str:
    """The address of a file of ours, with its content in it: it can be kept for ever."""
    digest = hashlib.sha256((HERE / "static" / name).read_bytes()).hexdigest()
    return f"/static/{name}?v={digest[:10]}"


def percent(fraction: float) -> str:
    """A fraction of the drawing as SVG wants it: "42.1%"."""
    return f"{100 * fraction:.2f}".rstrip("0").rstrip(".") + "%"


TOKEN = "the-token-of-the-session"
"""In what is kept of a page."""


class Renderer:
    def __init__(self) -> None:
        for language in LANGUAGES:
            environment(language)
        self._kept: tuple[Snapshot | None, dict[Hashable, str]] = (None, {})

    def answer(
        self, request: Request, page: Page, reader: Reader, view: object, *, status: int = 200, **more: Any
    ) -> Response:
        """The whole page, or for htmx its inner part: nothing (204) when that has not changed. A `view` that
        is made on call is made once a snapshot for all browsers that look on alike."""
        choice = light.chosen(request.cookies.get(light.COOKIE))
        shown = light.shown(choice, reader.snapshot)
        rights = _rights(request)
        inner = self._shared(request, page, reader, view, more, rights)
        mark = f"{shown}-{hashlib.blake2s(inner.encode(), digest_size=6).hexdigest()}"
        headers = {"Vary": "HX-Request, Cookie, Accept-Language", "Cache-Control": "no-store"}
        if request.headers.get("HX-Request") == "true" and status == 200:
            had = request.query_params.get("had", "")
            if had == mark:
                return Response(status_code=204, headers=headers)
            if had.partition("-")[0] not in ("", shown):
                return Response(status_code=204, headers=headers | {"HX-Refresh": "true"})
            return HTMLResponse(_marked(mark) + inner.replace(TOKEN, rights["csrf"]), headers=headers)
        whole = (
            environment(reader.dress.language)
            .get_template("page.html")
            .render(
                page=page,
                frame=frame(reader),
                inner=Markup(_marked(mark) + inner.replace(TOKEN, rights["csrf"])),
                url=request.url.path + (f"?{request.url.query}" if request.url.query else ""),
                light=shown,
                language=reader.dress.language,
                brightness=brightness(request),
                ground=GROUNDS[shown],
                choice=choice,
                lights=(light.BY_THE_SUN, *light.LIGHTS),
                navigation=NAVIGATION,
                status=status,
                path=request.url.path,
                **rights,
            )
        )
        return HTMLResponse(whole, status_code=status, headers=headers)

    def _shared(
        self,
        request: Request,
        page: Page,
        reader: Reader,
        view: object,
        more: dict[str, Any],
        rights: dict[str, Any],
    ) -> str:
        """The inner part, with `TOKEN` where the session's own stands. Who opens the page has perhaps just
        changed something: that is never served from what is kept."""
        live = callable(view) and request.headers.get("HX-Request") == "true"
        shown, kept = self._kept
        if shown is not reader.snapshot:
            kept = {}
            self._kept = reader.snapshot, kept
        query = tuple(item for item in request.query_params.multi_items() if item[0] != "had")
        key = (
            request.url.path,
            query,
            reader.dress,
            *(rights[n] for n in ("may_look", "may_act", "signed_in")),
        )
        if live and key in kept:
            return kept[key]
        with_token = rights | {"csrf": TOKEN if rights["csrf"] else ""}
        inner = self._inner(request, page, reader, view() if callable(view) else view, more, with_token)
        if live:
            kept[key] = inner
        return inner

    def _inner(
        self,
        request: Request,
        page: Page,
        reader: Reader,
        view: object,
        more: dict[str, Any],
        rights: dict[str, Any],
    ) -> str:
        template = environment(reader.dress.language).get_template(page.template)
        return template.render(
            frame=frame(reader),
            view=view,
            places=PLACES_TO_CHOOSE,
            people=PEOPLE_TO_CHOOSE,
            path=request.url.path,
            **rights,
            **more,
        )

    def sheet(self, request: Request, reader: Reader, *, status: int = 200, **facts: Any) -> Response:
        """The page for signing in: without a frame, for it tells nothing of the boat's state."""
        light_ = light.shown(light.chosen(request.cookies.get(light.COOKIE)), reader.snapshot)
        language = reader.dress.language
        template = environment(language).get_template("signin.html")
        return HTMLResponse(
            template.render(light=light_, language=language, **_rights(request), **facts), status_code=status
        )


def _rights(request: Request) -> dict[str, Any]:
    """What the templates go by: `act` in _act.html draws a form with `csrf`, or a line in its stead."""
    acting = acting_of(request)
    return {
        "may_look": acting.may_look,
        "may_act": acting.may_act,
        "csrf": acting.token,
        "signed_in": acting.signed_in,
    }


def _marked(mark: str) -> str:
    return f'<input type="hidden" name="had" value="{mark}">\n'
