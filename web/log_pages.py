"""The addresses of the Log: the page, the same as a file, and notes of the crew."""

from collections.abc import Callable
from dataclasses import replace
from itertools import chain
from math import isfinite
from typing import Annotated, Literal

from fastapi import FastAPI, Form, Query
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response, StreamingResponse

from monitor.errors import CommandError, StorageError, WorkerError
from monitor.records import Command
from monitor.words.tongues import N_
from web.presentation.figures import Reader, reader_of
from web.presentation.log import NOTE_MOST, Note, log
from web.presentation.log_asked import Asked, AskError, Place, asked, moment
from web.presentation.log_files import A_PIECE, as_csv, as_json
from web.presentation.log_lines import brackets_of
from web.presentation.log_look import Found, look
from web.render import Page, Renderer
from web.watch import Record, Watch

LOG = Page("log.html", N_("Log"), ("log.css",), live=False)
MEDIA = {"csv": "text/csv; charset=utf-8; header=present", "json": "application/json"}
Kinds = Annotated[list[str] | None, Query(alias="kind")]


def log_pages(app: FastAPI, watch: Watch, show: Renderer) -> None:
    @app.get("/log")
    def log_page(request: Request, kind: Kinds = None) -> Response:
        return answer(request, reader_of(watch, request))

    def answer(request: Request, reader: Reader, note: Note | None = None) -> Response:
        wish, found, trouble, status = Asked(), Found(()), "", 200
        if note is None:
            try:
                wish = _asked(reader, watch, request)
            except AskError as error:
                trouble, status = str(error), 422
        elif note.trouble:
            status = 422
        wish = replace(wish, placed=reader.snapshot.utc_s is not None)
        record = watch.history()
        if not trouble and note is None:
            try:
                found = Found(()) if record is None else look(reader, watch, record, wish)
                trouble = reader.say("no record") if record is None else ""
            except (StorageError, WorkerError) as error:
                trouble = reader.say("no record") if isinstance(error, StorageError) else str(error)
        return show.answer(
            request, LOG, reader, log(reader, wish, found, trouble=trouble, note=note), status=status
        )

    @app.get("/log.{form}")
    def log_file(request: Request, form: Literal["csv", "json"], kind: Kinds = None) -> Response:
        """All that the page of the same address shows, on as many pages as it takes."""
        reader, record = reader_of(watch, request), watch.history()
        if record is None:
            raise StorageError("there is no record")
        try:
            wish = _asked(reader, watch, request)
        except AskError as error:
            return PlainTextResponse(f"{error}\n", 422)
        read = _reading(reader, watch, record, replace(wish, before=None, after=None))
        pieces = (as_csv if form == "csv" else as_json)(reader, read)
        first = next(pieces) if form == "json" else next(pieces) + next(pieces)
        name = f'attachment; filename="log.{form}"'
        return StreamingResponse(
            chain([first], pieces), media_type=MEDIA[form], headers={"Content-Disposition": name}
        )

    @app.post("/notes")
    def note(
        request: Request,
        text: Annotated[str, Form()] = "",
        at: Annotated[str, Form(max_length=40)] = "",
    ) -> Response:
        """What the crew wants to have written down, of now or of an earlier time by the ship's clock."""
        reader = reader_of(watch, request)
        plain = "\n".join(text.replace("\0", "").splitlines()).strip()
        try:
            watch.submit(Command("note", "crew", _facts(reader, plain, at.strip())))
        except (AskError, CommandError) as error:
            why = reader.word(error.text, **error.facts) if isinstance(error, CommandError) else str(error)
            return answer(request, reader, Note(text, at, why))
        return RedirectResponse("/log", status_code=303)


def _asked(reader: Reader, watch: Watch, request: Request) -> Asked:
    fields, last_s = dict(request.query_params), None
    typed = bool(fields.get("from", "").strip() or fields.get("to", "").strip())
    if typed and "was" in fields and fields["was"] != "own":  # A span was typed beside the choice.
        fields["span"] = "own"
    record = watch.history()
    if reader.snapshot.utc_s is None and record is not None:
        brackets = brackets_of(record)
        last_s = brackets[max(brackets)].earliest_utc_s if brackets else None
    return asked(reader, fields, request.query_params.getlist("kind"), last_s)


def _reading(reader: Reader, watch: Watch, record: Record, wish: Asked) -> Callable[[Place | None], Found]:
    return lambda place: look(reader, watch, record, replace(wish, before=place), A_PIECE)


def _facts(reader: Reader, text: str, at: str) -> dict[str, object]:
    """Raises AskError, CommandError."""
    if not text:
        raise CommandError("the note is empty")
    if len(text) > NOTE_MOST:
        raise CommandError(
            "a note has {most:count} characters at most, got {got:count}: shorten it, or write two",
            most=NOTE_MOST,
            got=len(text),
        )
    if not at:
        return {"text": text}
    utc_s, now_s = moment(reader, N_("When"), at), reader.snapshot.utc_s
    if now_s is None:
        raise CommandError("the time is not known: leave the note's own time empty")
    if not isfinite(utc_s) or utc_s > now_s + 60:
        raise CommandError("a note cannot be of the future: it is {now:clock} now", now=now_s)
    return {"text": text, "utc_s": utc_s}
