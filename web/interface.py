"""The whole HTTP interface as an OpenAPI 3.1 document: `app.openapi()`. It is not served; tests run over it.

FastAPI knows addresses, parameters and forms. What is added: who may ask, what may come back, and in which
media type, as the guard, the gate and the handlers of errors answer for all pages alike.
"""

from typing import Any

from fastapi import FastAPI

from monitor import __version__
from web.rights import FREE_TO_READ, FREE_TO_WRITE

HTML, JSON, TEXT = "text/html", "application/json", "text/plain"
OTHER_MEDIA = {
    "/history/data": (JSON,),
    "/live": ("text/event-stream",),
    "/log.{form}": ("text/csv", JSON),
    "/night.{form}": ("text/csv", JSON),
    "/night/{day}.{form}": ("text/csv", JSON),
    "/phone/root": ("application/x-x509-ca-cert",),
    "/manifest.webmanifest": ("application/manifest+json",),
    "/worker.js": ("text/javascript",),
}
"""What is no page."""
ANY = {
    400: "The body cannot be read", 404: "There is no such thing", 413: "More than a form can hold",
    421: "A name that the watch does not answer to", 422: "Not filled in as expected",
    503: "The record, or the password's file, cannot be read",
}  # fmt: skip
READ = {204: "Nothing is newer than what htmx has", 304: "Not changed"}
WRITE = {
    303: "Done, and back to the page; or to the sign-in page", 403: "Another site, no session, or no token",
    409: "The watch refused it, and says why",
}  # fmt: skip
PRIVATE = {303: "To the sign-in page, where guests see nothing", 403: "The same, for a script"}
TOKEN = {
    "name": "X-CSRF", "in": "header", "required": False, "schema": {"type": "string"},
    "description": "The session's token, where it is not the field `csrf` of the form",
}  # fmt: skip


def described(app: FastAPI) -> None:
    """Gives the app an `openapi` that tells all of it."""
    made = app.openapi

    def openapi() -> dict[str, Any]:
        if app.openapi_schema is None:
            document = made()
            document["info"] = {"title": "Ebbwatch", "version": __version__}
            schemes = document.setdefault("components", {}).setdefault("securitySchemes", {})
            schemes["session"] = {"type": "apiKey", "in": "cookie", "name": "ebbwatch"}
            for path, methods in document["paths"].items():
                for method, operation in methods.items():
                    _complete(path, method, operation)
            document["paths"]["/static/{file}"] = {"get": _file()}
            app.openapi_schema = document
        return app.openapi_schema

    app.openapi = openapi  # type: ignore[method-assign]


def _complete(path: str, method: str, operation: dict[str, Any]) -> None:
    reads = method == "get"
    told = dict(ANY)
    responses: dict[str, Any] = {}
    if reads:
        responses["200"] = _answer("As asked", OTHER_MEDIA.get(path, (HTML,)))
        told |= READ | ({} if path in FREE_TO_READ else PRIVATE)
    else:
        told |= WRITE
        operation.setdefault("parameters", []).append(TOKEN)
        if "requestBody" in operation:
            operation["requestBody"]["required"] = False  # What is refused is refused without one, too.
    if path not in FREE_TO_READ | FREE_TO_WRITE:
        operation["security"] = [{"session": []}] if not reads else [{}, {"session": []}]
    for status, text in told.items():
        responses[str(status)] = _answer(text, (HTML, TEXT, JSON)) if status >= 400 else {"description": text}
    if path == "/signin" and not reads:
        responses["429"] = _answer("Too many attempts", (HTML,)) | {
            "headers": {"Retry-After": {"schema": {"type": "integer", "minimum": 1}}}
        }
    operation["responses"] = responses


def _answer(text: str, media: tuple[str, ...]) -> dict[str, Any]:
    return {"description": text, "content": {one: {"schema": {}} for one in media}}


def _file() -> dict[str, Any]:
    media = ("text/css", "text/javascript", "image/svg+xml", "image/png", TEXT, "text/markdown")
    missing = {str(status): _answer(ANY[status], (HTML,)) for status in (404, 421)}
    name = {"name": "file", "in": "path", "required": True, "schema": {"type": "string"}}
    answers = {"200": _answer("A file of ours", media), "304": _answer("Not changed", media)} | missing
    return {"summary": "Styles, scripts and drawings", "parameters": [name], "responses": answers}
