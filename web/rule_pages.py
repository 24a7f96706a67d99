"""The addresses of the rules: the table, each rule, a change looked at, and a change put in force.

A change is put in force by the watch alone, and only after the preview was reckoned here once more: what a
browser was shown before counts for nothing.
"""

import re
from collections.abc import Mapping
from math import isfinite
from typing import Annotated, Any

from fastapi import FastAPI, Form
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.alerts.limits import LIMITS
from monitor.alerts.rules import RULES
from monitor.clock import DAY_S, HOUR_S, MINUTE_S, Interval
from monitor.errors import CommandError, WorkerError
from monitor.records import PEOPLE, PLACES, Command, RuleChange
from monitor.words.tongues import N_, translated_count
from web.presentation.figures import Reader, reader_of
from web.presentation.rule import rule_page
from web.presentation.rule_preview import LOOK_BACK_S, Shown, shown
from web.presentation.rules import rule_href, rulebook, rules, taken_as
from web.render import Page, Renderer
from web.watch import Foresees, Previewed, Watch

RULES_PAGE = Page("rules.html", N_("Rules"), ("alert_pages.css",), live=False)
RULE = Page("rule.html", N_("Rule"), ("alert_pages.css",), live=False)
WHENS = tuple(f"when {at}" for at in (*PLACES, *PEOPLE))
FIELDS = ("limit", *WHENS, "on_delay", "off_delay", "wakes")
LONGEST = 40
PART = re.compile(r"(\d+(?:\.\d+)?)\s*(s|min|h|days|day|d)(?![a-z])")
SECONDS = {"s": 1.0, "min": MINUTE_S, "h": HOUR_S, "days": DAY_S, "day": DAY_S, "d": DAY_S}
_FORM = {
    "content": {
        "application/x-www-form-urlencoded": {
            "schema": {
                "type": "object",
                "properties": {name: {"type": "string", "maxLength": LONGEST} for name in FIELDS}
                | {"subject": {"type": "string"}},
            }
        }
    }
}
"""The names of its fields have spaces in them, as the rules' own words do."""


def rule_pages(app: FastAPI, watch: Watch, show: Renderer) -> None:
    @app.get("/rules")
    def rules_page(request: Request) -> Response:
        reader = reader_of(watch, request)
        return show.answer(request, RULES_PAGE, reader, rules(reader))

    @app.get("/rules/{rule}")
    def one_rule(request: Request, rule: str, subject: str = "") -> Response:
        """With fields of the form in the address: what that change would have brought."""
        reader = reader_of(watch, request)
        if rule not in RULES or (subject and subject not in _subjects(reader, rule)):
            raise HTTPException(404, "rules: no such")
        given: dict[str, str] = {}
        preview, trouble = None, ""
        try:
            given = _given(request.query_params)
            preview = _looked_at(reader, watch, rule, subject, given) if given else None
        except CommandError as error:
            trouble = reader.say("rules: not so", why=reader.word(error.text, **error.facts))
        page = rule_page(reader, rule, subject, given, preview)
        return show.answer(request, RULE, reader, page, status=422 if trouble else 200, trouble=trouble)

    @app.post("/rules/{rule}", openapi_extra={"requestBody": _FORM})
    async def put_in_force(request: Request, rule: str) -> Response:
        form = {name: str(value) for name, value in (await request.form()).items()}
        return await run_in_threadpool(_put, request, watch, rule, form)

    @app.post("/rules/{rule}/reset")
    def reset(rule: str, subject: Annotated[str, Form(max_length=300)] = "") -> Response:
        if rule not in RULES:
            raise HTTPException(404, "rules: no such")
        watch.submit(Command("rule reset", subject, {"rule": rule}))
        return RedirectResponse(rule_href(rule, subject), status_code=303)


def _put(request: Request, watch: Watch, rule: str, form: Mapping[str, str]) -> Response:
    reader = reader_of(watch, request)
    subject = form.get("subject", "")
    if rule not in RULES or (subject and subject not in _subjects(reader, rule)):
        raise HTTPException(404, "rules: no such")
    change = _change(reader, rule, subject, _given(form))
    if change is None:
        raise CommandError(reader.say("rules: nothing changed"))
    if any(p.refused for p in _previews(reader, watch, change)[1]):
        raise CommandError(reader.say("rules: for ever"))
    watch.submit(Command("rule", subject, _facts(change)))
    return RedirectResponse(rule_href(rule, subject), status_code=303)


def _subjects(reader: Reader, rule: str) -> set[str]:
    return {s.subject for s in reader.snapshot.calls.rules if s.rule == rule}


def _given(fields: Mapping[str, str]) -> dict[str, str]:
    """What was typed; an empty line leaves the rule as it is."""
    found = {name: fields[name].strip() for name in FIELDS if fields.get(name, "").strip()}
    for name, text in found.items():
        if len(text) > LONGEST:
            raise CommandError(
                "{name}: expected at most {most:count} characters, got {got:count}",
                name=name,
                most=LONGEST,
                got=len(text),
            )
    return found


def _change(reader: Reader, rule: str, subject: str, given: Mapping[str, str]) -> RuleChange | None:
    """Only what differs from what is in force; None where nothing does. Raises CommandError."""
    row = rulebook(reader).rules[rule]
    page = rule_page(reader, rule, subject, {}, None)
    stands = {f.name: f.value for f in (page.limit, *page.whens, *page.delays) if f is not None}
    new = {name: text for name, text in given.items() if text != stands.get(name, "")}
    if (new.keys() - {"on_delay", "off_delay", "wakes"}) and rule not in LIMITS:
        raise CommandError("limit: the rule {rule!r} has no limit to move", rule=rule)
    numbers = {
        name: taken_as(reader, rule, _number(name, text))
        for name, text in new.items()
        if name == "limit" or name in WHENS
    }
    on_s, off_s = (
        _seconds(reader, name, new[name]) if name in new else None for name in ("on_delay", "off_delay")
    )
    wakes = None
    if (
        "wakes" in new
        and page.wakes is not None
        and new["wakes"] in ("yes", "no")
        and new["wakes"] != page.wakes
    ):
        wakes = new["wakes"] == "yes"
    change = RuleChange(
        rule, subject, numbers.get("limit"),
        {name[5:]: value for name, value in numbers.items() if name in WHENS},
        None if on_s == row.on_delay_s else on_s, None if off_s == row.off_delay_s else off_s, wakes,
    )  # fmt: skip
    if change == RuleChange(rule, subject):
        return None
    if subject and (on_s is not None or off_s is not None or wakes is not None):
        raise CommandError(reader.say("rules: delays are of all"))
    rulebook(reader).changed(change, reader.settings.boat.crew)
    return change


def _number(name: str, text: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not isfinite(value):
        raise CommandError("{name}: expected a number, got {got!r}", name=name, got=text)
    return value


def _seconds(reader: Reader, name: str, text: str) -> float:
    """ "1 h 30 min" and the like; days in the reader's own word, too."""
    plain = " ".join(text.replace(",", ".").split())
    for n in (1, 2):
        plain = plain.replace(translated_count("day", "days", n, reader.dress.language), "days")
    parts = PART.findall(plain)
    if not parts or PART.sub("", plain).strip():
        raise CommandError(
            "{name}: expected a time like 30 s, 5 min or 1 h 30 min, got {got!r}", name=name, got=text
        )
    return sum(float(number) * SECONDS[unit] for number, unit in parts)


def _facts(change: RuleChange) -> dict[str, Any]:
    names = ("limit", "on_delay_s", "off_delay_s", "wakes")
    given = {name: getattr(change, name) for name in names if getattr(change, name) is not None}
    return {"rule": change.rule, **given} | ({"when": dict(change.when)} if change.when else {})


def _during(reader: Reader) -> Interval:
    now_s = reader.snapshot.utc_s
    if now_s is None:
        raise CommandError(reader.say("rules: no clock"))
    return Interval(now_s - LOOK_BACK_S, now_s)


def _previews(reader: Reader, watch: Watch, change: RuleChange) -> tuple[list[Previewed], list[Previewed]]:
    """As the rule stands, and as proposed."""
    if not isinstance(watch, Foresees):
        raise CommandError(reader.say("rules: no preview"))
    during = _during(reader)
    try:
        return _both(watch, change, during)
    except WorkerError as error:
        raise CommandError(str(error)) from error


def _both(watch: Foresees, change: RuleChange, during: Interval) -> tuple[list[Previewed], list[Previewed]]:
    return list(watch.previews(None, during, change.rule)), list(watch.previews(change, during))


def _looked_at(reader: Reader, watch: Watch, rule: str, subject: str, given: dict[str, str]) -> Shown:
    """Raises CommandError for a change that cannot be, or that is none."""
    change = _change(reader, rule, subject, given)
    if change is None:
        raise CommandError(reader.say("rules: nothing changed"))
    now, proposed = _previews(reader, watch, change)
    return shown(reader, watch.history(), change, _during(reader), now, proposed, list(given.items()))
