"""Signing in and out. The sheet is one of its own: it needs no script, tells nothing of the boat but her
name, and costs little to draw however often somebody guesses."""

import logging
from typing import Annotated

from anyio import CapacityLimiter, to_thread
from fastapi import FastAPI, Form, Query
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.errors import RightsError
from monitor.rights.password import LONGEST
from web.presentation.figures import reader_of
from web.render import Renderer
from web.rights import Rights, acting_of, set_cookie
from web.watch import Watch
from web.ways import ours

LOG = logging.getLogger(__name__)
Back = Annotated[str, Form()]


def signin_pages(app: FastAPI, watch: Watch, show: Renderer, rights: Rights) -> None:
    one_at_a_time = CapacityLimiter(1)

    def sheet(request: Request, back: str, said: str, *, asks: bool = False, status: int = 200) -> Response:
        reader = reader_of(watch, request)
        first = reader.say("sign in", boat=watch.settings.boat.name)
        return show.sheet(request, reader, first=first, said=said, asks=asks, back=ours(back), status=status)

    def trouble(request: Request, error: RightsError) -> Response:
        LOG.error("%s", error)
        return sheet(request, "/", reader_of(watch, request).say("no sign-in"), status=503)

    @app.get("/signin")
    async def signin_page(request: Request, next: Annotated[str, Query()] = "/") -> Response:
        reader = reader_of(watch, request)
        try:
            if rights.password() is None:
                return sheet(request, next, reader.say("nobody signs in"))
        except RightsError as error:
            return trouble(request, error)
        if acting_of(request).signed_in:
            return sheet(request, next, reader.say("signed in already"))
        return sheet(request, next, "", asks=True)

    @app.post("/signin")
    async def signin(request: Request, password: Annotated[str, Form()] = "", next: Back = "/") -> Response:
        """Whether it may be tried is asked before anything is hashed. One is hashed at a time, in a thread:
        neither the pages nor the watch wait for it."""
        reader = reader_of(watch, request)
        address = request.client.host if request.client else ""
        try:
            kept, sessions = rights.password(), rights.sessions()
        except RightsError as error:
            return trouble(request, error)
        if kept is None or sessions is None:
            return RedirectResponse(ours(next), status_code=303)
        if wait_s := rights.attempts.wait_s(address):
            told = reader.say("too many attempts", wait_s=wait_s)
            answer = sheet(request, next, told, asks=True, status=429)
            answer.headers["Retry-After"] = str(wait_s)
            return answer
        right = len(password) <= LONGEST and await to_thread.run_sync(
            kept.is_, password, limiter=one_at_a_time
        )
        if not right:
            LOG.warning("a wrong password from %s", address)
            return sheet(request, next, reader.say("wrong password"), asks=True, status=403)
        rights.attempts.succeeded(address)
        answer = RedirectResponse(ours(next), status_code=303)
        set_cookie(answer, request.scope, sessions.begin())
        return answer

    @app.post("/signout")
    async def signout(request: Request, back: Back = "/") -> Response:
        """The cookie is taken back from this browser; a new password ends the sessions of all."""
        answer = RedirectResponse(ours(back), status_code=303)
        set_cookie(answer, request.scope, "")
        return answer
