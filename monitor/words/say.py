"""A Reason becomes a sentence: the id finds the text, the facts fill it, the dress shapes it."""

from collections.abc import Mapping, Sequence
from string import Formatter
from typing import Any

from monitor.records import Reason
from monitor.words import (
    alert_pages,
    alerts,
    buffer,
    cells,
    days,
    energy,
    filling,
    fit_out,
    guided,
    lines,
    nights,
    opinions,
    pages,
    pipeline,
    plans,
    plumbing,
    previews,
    rights,
    scores,
    setup,
    sources,
    store,
    supplies,
    upkeep,
    water,
    water_plans,
    ways,
)
from monitor.words.units import FORMATS, Dress, known, unknown

AREAS = (
    alert_pages, alerts, buffer, cells, days, energy, filling, fit_out, guided, lines, nights, opinions,
    pages, pipeline, plans, plumbing, previews, rights, scores, setup, sources, store, supplies, upkeep,
    water, water_plans, ways,
)  # fmt: skip
SENTENCES: dict[str, str] = {id: text for area in AREAS for id, text in area.SENTENCES.items()}


class _Filler(Formatter):
    """Fills plain names only: no attribute, no index, so a text can reach nothing but its facts."""

    def __init__(self, dress: Dress) -> None:
        self.dress = dress

    def get_field(self, field_name: str, args: Sequence[Any], kwargs: Mapping[str, Any]) -> Any:
        return kwargs.get(field_name), field_name

    def format_field(self, value: Any, format_spec: str) -> str:
        if format_spec in ("", "text"):
            if isinstance(value, list):
                return self.clauses(value)
            return unknown(self.dress) if value is None else self.dress.text(str(value))
        return FORMATS[format_spec](value, self.dress) if known(value) else unknown(self.dress)

    def clauses(self, value: Sequence[Sequence[Any]]) -> str:
        """[id, facts] each, put in a row."""
        return "; ".join(say(Reason(id, facts), self.dress) for id, facts in value)

    def check_unused_args(self, *unused: Any) -> None:
        """A sentence need not use every fact."""


def say(reason: Reason, dress: Dress) -> str:
    """The sentence of this reason; an id with gaps is one itself. Any other is shown as it is, facts beside
    it."""
    text = SENTENCES.get(reason.id, reason.id if "{" in reason.id else None)
    if text is None:
        facts = ", ".join(f"{name} {value}" for name, value in reason.facts.items())
        return f"{reason.id} ({facts})" if facts else dress.text(reason.id)
    return fill(text, reason.facts, dress)


def fill(text: str, facts: Mapping[str, Any], dress: Dress) -> str:
    """An English text of ours in the reader's language, its gaps filled."""
    return _Filler(dress).vformat(dress.text(text), (), facts)


def named(name: str) -> str:
    """A subject's or estimate's name at the head of a sentence."""
    return name[:1].upper() + name[1:]
