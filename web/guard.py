"""What every answer carries and every request must satisfy, before any page is asked.

The dashboard trusts whoever is aboard and nobody else: a page of another site must be able neither
to read it (a name of theirs pointed at our address) nor to post to it.
"""

from collections.abc import Iterable
from ipaddress import ip_address
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

SECURITY_HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; "
        "connect-src 'self'; worker-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; "
        "frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(), camera=(), microphone=(), payment=(), usb=()",
}
LOCAL_ENDINGS = (".local", ".lan", ".home.arpa", ".internal", ".localhost")
"""Names that the public name system never gives out (RFC 6762, RFC 8375, RFC 6761; .lan by practice)."""
LARGEST_BODY = 16 * 1024


class Refused(Exception):
    """A request that the guard turns away; `reason` is an id of `monitor.words`."""

    def __init__(self, status: int, reason: str) -> None:
        super().__init__(reason)
        self.status = status
        self.reason = reason


def check(scope: Scope, hosts: Iterable[str] = ()) -> None:
    """Raises Refused for a foreign Host, a post from another site, or a body past a form's size."""
    headers = Headers(scope=scope)
    host = urlsplit(f"//{headers.get('host', '')}").hostname or ""
    if not (host in hosts or _is_ours(host, scope.get("server"))):
        raise Refused(421, "refused host")
    if scope["method"] in ("GET", "HEAD"):
        return
    site, origin = headers.get("sec-fetch-site"), headers.get("origin")
    own = f"{scope['scheme']}://{headers.get('host', '')}"
    if not (site == "same-origin" if site is not None else origin == own):
        raise Refused(403, "refused origin")
    length = headers.get("content-length", "")
    if not length.isdecimal() or int(length) > LARGEST_BODY:
        raise Refused(413, "refused body")


def _is_ours(host: str, server: tuple[str, int | None] | None) -> bool:
    """On loopback only its own names; elsewhere any address in figures and any purely local name."""
    if is_loopback(server[0] if server else ""):
        return host == "localhost" or is_loopback(host)
    try:
        ip_address(host)
    except ValueError:
        return bool(host) and ("." not in host or host.endswith(LOCAL_ENDINGS))
    return True


def is_loopback(host: str) -> bool:
    """Whether it is an address of this computer that nobody else can reach."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return False


class Guard:
    """ASGI middleware: refuses what `check` refuses, and puts the headers on everything."""

    def __init__(self, app: ASGIApp, hosts: frozenset[str], refuse: ASGIApp) -> None:
        self.app = app
        self.hosts = hosts
        self.refuse = refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.update(SECURITY_HEADERS)
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        try:
            check(scope, self.hosts)
        except Refused as refused:
            scope["refused"] = refused
            await self.refuse(scope, receive, send_guarded)
            return
        await self.app(scope, receive, send_guarded)
