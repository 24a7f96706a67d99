"""Who may look and who may act: asked of every request before any page is.

Whatever is not a plain reading needs a session and, in the form or the header X-CSRF, that session's token.
It is asked here and not by the pages, so that none can be forgotten. Without a password nobody needs to sign
in (`ebbwatch run` then listens on loopback alone); forms then carry no token: there is no session that
another site could borrow, and web.guard refuses what comes from elsewhere.
"""

import hmac
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from monitor.errors import RightsError
from monitor.rights.password import Password, read_password
from web.attempts import Attempts
from web.guard import Refused
from web.sessions import EXPIRES_S, Sessions
from web.ways import from_here, sign_in

READING = frozenset(("GET", "HEAD", "OPTIONS"))
FREE_TO_READ = frozenset(("/signin", "/phone", "/phone/root", "/manifest.webmanifest", "/worker.js"))
"""Before signing in, as all of /static is. A phone must have the boat's root certificate before a password
is typed there."""
FREE_TO_WRITE = frozenset(("/signin", "/light"))
"""/light changes only what the reader sees."""
URLENCODED = "application/x-www-form-urlencoded"


@dataclass(frozen=True, slots=True)
class Acting:
    """What the one who asks may do, for the pages and the templates.

    `token` stands in the forms of who is signed in; `renewed` is the session's cookie, signed anew.
    """

    may_look: bool = True
    may_act: bool = False
    token: str = ""
    renewed: str = ""

    @property
    def signed_in(self) -> bool:
        return self.token != ""


NOBODY = Acting(may_look=False)


def acting_of(request: Request) -> Acting:
    """What the gate found; nothing is allowed where a request never came to it."""
    found: Acting = request.scope.get("acting", NOBODY)
    return found


class Rights:
    """The password in `file` as it stands now, which may be set anew while the watch runs.

    Where one is `needed`, or was once there, a file that is missing or damaged lets nobody act.
    """

    def __init__(
        self,
        file: Path | None = None,
        *,
        needed: bool = False,
        now_s: Callable[[], float] = time.time,
        elapsed_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self.attempts = Attempts(elapsed_s)
        self._file = file
        self._needed = needed
        self._now_s = now_s
        self._mark: tuple[int, ...] = (-1,)
        self._found: Password | None = None
        self._trouble: RightsError | None = None
        self.password()

    def password(self) -> Password | None:
        """None where nobody needs one. Raises RightsError where it is needed and cannot be read."""
        if self._file is not None:
            mark = _mark(self._file)
            if mark != self._mark:
                self._mark = mark
                self._read(self._file)
        if self._trouble is not None:
            raise self._trouble
        return self._found

    def _read(self, file: Path) -> None:
        self._trouble = None
        try:
            self._found = read_password(file)
        except RightsError as error:
            self._trouble = error
        if self._found is None and self._needed and self._trouble is None:
            self._trouble = RightsError(f"{file}: no password is set: `ebbwatch password` sets one")
        self._needed = self._needed or self._found is not None

    def sessions(self) -> Sessions | None:
        """None where nobody needs to sign in. Raises RightsError."""
        password = self.password()
        return None if password is None else Sessions(password.key, self._now_s)


def _mark(file: Path) -> tuple[int, ...]:
    """Changes whenever the file does."""
    try:
        about = file.stat()
    except OSError:
        return ()
    return about.st_ino, about.st_size, about.st_mtime_ns, about.st_ctime_ns


def cookie_name(scope: Scope) -> str:
    """Two names: what was set under https cannot be replaced from http (RFC 6265bis, 5.7), and with the
    prefix no other host can plant it (RFC 6265bis, 4.1.3.2)."""
    return "__Host-ebbwatch" if scope["scheme"] == "https" else "ebbwatch"


def set_cookie(answer: Response, scope: Scope, value: str) -> None:
    """The session's cookie; an empty value takes it away."""
    answer.set_cookie(
        cookie_name(scope), value, max_age=int(EXPIRES_S) if value else 0, path="/", httponly=True,
        samesite="strict", secure=scope["scheme"] == "https",
    )  # fmt: skip


class Gate:
    """ASGI middleware behind the guard: puts `acting` into the scope, or answers in the page's stead."""

    def __init__(self, app: ASGIApp, rights: Rights, guests_look: bool, refuse: ASGIApp) -> None:
        self.app = app
        self.rights = rights
        self.guests_look = guests_look
        self.refuse = refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        scope["acting"] = acting = self._acting(scope)
        try:
            receive = await _allowed(acting, scope, receive)
        except Refused as refused:
            scope["refused"] = refused
            await self.refuse(scope, receive, send)
        except NotSignedIn:
            await to_sign_in(scope)(scope, receive, send)
        else:
            await self.app(scope, receive, _renewing(acting, scope, send))

    def _acting(self, scope: Scope) -> Acting:
        guest = Acting(may_look=self.guests_look)
        try:
            sessions = self.rights.sessions()
        except RightsError:
            return guest
        if sessions is None:
            return Acting(may_act=True)
        session = sessions.look(Request(scope).cookies.get(cookie_name(scope)))
        if session is None:
            return guest
        renewed = sessions.renewed(session.id) if session.wants_renewal else ""
        return Acting(may_act=True, token=sessions.token(session), renewed=renewed)


async def _allowed(acting: Acting, scope: Scope, receive: Receive) -> Receive:
    """What the page is to read its body from. Raises NotSignedIn or Refused."""
    path = scope["path"]
    if scope["method"] in READING:
        if not (acting.may_look or path in FREE_TO_READ or path.startswith("/static/")):
            raise NotSignedIn
    elif path not in FREE_TO_WRITE:
        if not acting.may_act:
            raise NotSignedIn
        if acting.signed_in:
            return await _with_token(acting.token, scope, receive)
    return receive


class NotSignedIn(Exception):
    """A session is needed here, and there is none."""


def to_sign_in(scope: Scope) -> Response:
    """There and back again: by htmx's own header for htmx, as a redirect for a browser's own asking, and
    as a plain refusal for a script, which would take a page of ours for its data."""
    headers = Headers(scope=scope)
    if headers.get("hx-request") == "true":
        back = from_here(headers.get("hx-current-url", ""), headers.get("host", ""))
        return Response(status_code=403, headers={"HX-Redirect": sign_in(back)})
    if "text/html" not in headers.get("accept", ""):
        return Response("sign in first\n", 403, media_type="text/plain; charset=utf-8")
    if scope["method"] in READING:
        query = scope["query_string"].decode("latin-1")
        back = scope["path"] + (f"?{query}" if query else "")
    else:
        back = from_here(headers.get("referer", ""), headers.get("host", ""))
    return RedirectResponse(sign_in(back), status_code=303)


async def _with_token(expected: str, scope: Scope, receive: Receive) -> Receive:
    """The body again, after the token was looked for in it. Raises Refused where it is not there."""
    headers = Headers(scope=scope)
    token = headers.get("x-csrf")
    again = receive
    if token is None and headers.get("content-type", "").startswith(URLENCODED):
        body = await Request(scope, receive).body()
        token = parse_qs(body.decode("latin-1")).get("csrf", [""])[0]
        again = _replayed(body, receive)
    if token is None or not hmac.compare_digest(token.encode("utf-8", "replace"), expected.encode()):
        raise Refused(403, "form of another session")
    return again


def _replayed(body: bytes, receive: Receive) -> Receive:
    waiting = [{"type": "http.request", "body": body, "more_body": False}]

    async def again() -> Message:
        return waiting.pop() if waiting else await receive()

    return again


def _renewing(acting: Acting, scope: Scope, send: Send) -> Send:
    """Adds the renewed cookie to what is read and not kept: no other answer sets or takes one away then."""
    if not acting.renewed or scope["method"] not in READING or scope["path"].startswith("/static/"):
        return send
    cookie = Response()
    set_cookie(cookie, scope, acting.renewed)

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            MutableHeaders(scope=message).append("Set-Cookie", cookie.headers["set-cookie"])
        await send(message)

    return sending
