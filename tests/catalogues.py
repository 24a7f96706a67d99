"""Brings the catalogues up to what the code says: `python -m tests.catalogues [--check]`.

What is translated is the texts of `monitor.words`, the templates, and what Python marks by `N_` or hands to
`word`. A new text is added without a translation, one that nobody says any more goes. Nothing is guessed.
"""

import sys
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.pofile import read_po, write_po

from monitor.alerts.jobs import JOBS
from monitor.channels import QUANTITIES
from monitor.estimation.loads.kinds import SUGGESTED
from monitor.estimation.plumbing_verdicts import VERDICTS
from monitor.estimation.water_plan import RATIONS
from monitor.records import PEOPLE, PLACES
from monitor.words.say import SENTENCES
from monitor.words.tongues import CATALOGUES, ENGLISH, LANGUAGES
from web.light import LIGHTS

ROOT = Path(__file__).parents[1]
KEYWORDS = {
    "N_": None, "_": None, "gettext": None, "word": None, "text": None,
    "ngettext": (1, 2), "translated_count": (1, 2), "words": (1, 2), "Page": (2,),
    "CommandError": None,
}  # fmt: skip
FACTS: dict[str, tuple[str, ...]] = {
    "monitor/channels: quantities": tuple(QUANTITIES),
    "monitor/records: places": PLACES,
    "monitor/records: people": PEOPLE,
    "monitor/alerts/jobs": tuple(JOBS),
    "monitor/estimation/plumbing_verdicts": tuple(v for v in VERDICTS if f"{v}: name" not in SENTENCES),
    "monitor/estimation/water_plan: rations": tuple(ration.name for ration in RATIONS),
    "monitor/estimation/loads: suggestions": tuple(dict.fromkeys(row[0] for row in SUGGESTED)),
    "web/light": LIGHTS,
}
UNSETTLED = (
    "Project-Id", "Report-", "POT-", "PO-Revision", "Last-Tr", "Language-Team", "Generated-By",
)  # fmt: skip
"""Headers that would change with every run, or name nobody."""


def said() -> Iterator[tuple[str, str | tuple[str, ...]]]:
    """Every text, with the file that says it; first the words that lower layers keep as facts."""
    for where, texts in FACTS.items():
        for text in texts:
            yield where, text
    for id, text in SENTENCES.items():
        yield f"monitor/words: {id}", text
    for folder, ending, method in (
        ("monitor", "*.py", "python"), ("web", "*.py", "python"), ("web/templates", "*.html", "jinja2"),
    ):  # fmt: skip
        for path in sorted((ROOT / folder).rglob(ending)):
            options = {"trimmed": "true", "trim_blocks": "true", "lstrip_blocks": "true"}
            with path.open("rb") as file:
                for _, message, _, _ in extract(method, file, KEYWORDS, (), options):
                    yield path.relative_to(ROOT).as_posix(), message


def template() -> Catalog:
    """Everything that is said, in English."""
    found = Catalog(project="Ebbwatch", version="", charset="utf-8", fuzzy=False)
    for where, message in said():
        plain = message[0] if isinstance(message, tuple) else message
        if plain:
            found.add(message, locations=[(where.replace(" ", "_"), 0)])
    return found


def kept(language: str) -> Catalog:
    with (CATALOGUES / f"{language}.po").open("rb") as file:
        return read_po(file, locale=language)


def brought_up(language: str, wanted: Catalog) -> Catalog:
    """The catalogue with what is wanted and nothing else, in the template's order."""
    found = kept(language)
    fresh = Catalog(
        locale=language, header_comment=f"# Ebbwatch in {LANGUAGES[language]}.", charset="utf-8", fuzzy=False
    )
    for message in wanted:
        if message.id:
            old = found.get(message.id)
            fresh.add(message.id, old.string if old else "", locations=message.locations)
    return fresh


def lacking(language: str) -> list[str]:
    """What the catalogue does not say, or says though nobody asks."""
    found, wanted = kept(language), template()
    missing = [str(m.id) for m in wanted if m.id and not _told(found, m.id)]
    return missing + [f"nobody says: {m.id}" for m in found if m.id and m.id not in wanted]


def _told(found: Catalog, id: str | list[str] | tuple[str, ...]) -> bool:
    message = found.get(id)
    strings = () if message is None else message.string
    return bool(strings) and all(strings if isinstance(strings, tuple | list) else (strings,))


def _settled(text: str) -> str:
    lines = text.splitlines(keepends=True)
    return "".join(line for line in lines if not (line.startswith('"') and line[1:].startswith(UNSETTLED)))


def main() -> int:
    wanted, short = template(), 0
    for language in LANGUAGES:
        if language == ENGLISH:
            continue
        if "--check" not in sys.argv:
            out = BytesIO()
            write_po(out, brought_up(language, wanted), width=0, include_lineno=False, omit_header=False)
            (CATALOGUES / f"{language}.po").write_text(_settled(out.getvalue().decode()), "utf-8")
        missing = lacking(language)
        short += len(missing)
        print(f"{language}: {len(wanted)} texts, {len(missing)} without a translation")
    return 1 if short and "--check" in sys.argv else 0


if __name__ == "__main__":
    raise SystemExit(main())
