"""The page that puts the boat on a phone: her root certificate, its fingerprint, and the steps."""

from dataclasses import dataclass

from fastapi import FastAPI
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from monitor.errors import RightsError
from monitor.rights.private_file import root_file
from web.guard import is_loopback
from web.presentation.figures import reader_of
from web.render import Page, Renderer
from web.watch import Watch

PHONE = Page("phone.html", "On a phone", live=False)
MEDIA = "application/x-x509-ca-cert"
"""What browsers and phones take for a certificate to be trusted (by practice; never registered)."""


@dataclass(frozen=True, slots=True)
class Phone:
    """`plain`: this page came unencrypted over a network; `pairs`: the fingerprint, where there is a root."""

    first: str
    plain: bool
    pairs: tuple[str, ...]
    trouble: str


def phone_pages(app: FastAPI, watch: Watch, show: Renderer) -> None:
    file = root_file(watch.settings.store.path)

    def root() -> tuple[bytes, tuple[str, ...]]:
        """The certificate and its fingerprint, both empty where there is none. Raises RightsError."""
        from monitor.rights.certificate import read_certified  # Costs memory that few watches need.

        found = read_certified(file) if file.exists() else None
        return (b"", ()) if found is None else (found.der(), tuple(found.fingerprint.split(":")))

    @app.get("/phone")
    def phone_page(request: Request) -> Response:
        reader = reader_of(watch, request)
        pairs: tuple[str, ...] = ()
        trouble = ""
        try:
            pairs = root()[1]
        except RightsError:
            trouble = reader.say("root unreadable")
        safe = request.url.scheme == "https" or is_loopback(request.url.hostname or "")
        if safe:
            first = reader.say("on a phone", boat=watch.settings.boat.name)
        else:
            first = reader.say("on a phone, unencrypted", boat=watch.settings.boat.name)
        return show.answer(request, PHONE, reader, Phone(first, not safe, pairs, trouble))

    @app.get("/phone/root")
    def root_download() -> Response:
        try:
            der, _ = root()
        except RightsError as error:
            raise HTTPException(404, "root unreadable") from error
        if not der:
            raise HTTPException(404, "no root")
        headers = {"Content-Disposition": 'attachment; filename="boat-root.crt"'}
        return Response(der, media_type=MEDIA, headers=headers)
