"""Every reason has a sentence, and every sentence can be said."""

import ast
import importlib
import pkgutil
from collections import Counter
from collections.abc import Iterator
from datetime import UTC
from pathlib import Path
from string import Formatter

import pytest

from monitor import words
from monitor.records import Reason
from monitor.words.say import AREAS, SENTENCES, say
from monitor.words.units import FORMATS, Dress

PLAIN = Dress(UTC)
MONITOR = Path(words.__file__).parents[1]


def _texts(node: ast.expr) -> Iterator[str]:
    """The constants that an expression can be."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from _texts(node.body)
        yield from _texts(node.orelse)


def reasons_in_code() -> list[tuple[str, str]]:
    """(where, id) of every `Reason("...")` and `.say("...")` under monitor/ and web/."""
    found = []
    for path in [*MONITOR.rglob("*.py"), *(MONITOR.parent / "web").rglob("*.py")]:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not isinstance(node, ast.Call) or not node.args:
                continue
            called = getattr(node.func, "id", getattr(node.func, "attr", ""))
            if called in ("Reason", "say"):
                found += [(f"{path.name}:{node.lineno}", text) for text in _texts(node.args[0])]
    return found


def test_every_reason_in_the_code_has_a_sentence() -> None:
    """What an estimator or a rule may say, somebody has put into words."""
    used = reasons_in_code()
    assert len(used) > 50, "the collector finds nothing: has Reason been renamed?"
    assert [f"{where}: {id}" for where, id in used if id not in SENTENCES] == []


def test_every_area_of_sentences_is_gathered_and_none_says_what_another_does() -> None:
    """A module with SENTENCES that nobody gathers would be silent; two for one id would differ."""
    modules = [
        importlib.import_module(f"{words.__name__}.{found.name}")
        for found in pkgutil.iter_modules(words.__path__)
        if found.name != "say"
    ]
    with_sentences = {m.__name__ for m in modules if hasattr(m, "SENTENCES")}
    assert with_sentences == {area.__name__ for area in AREAS}
    counted = Counter(id for area in AREAS for id in area.SENTENCES)
    assert [id for id, n in counted.items() if n > 1] == []


@pytest.mark.parametrize("id", sorted(SENTENCES))
def test_every_sentence_uses_plain_names_and_known_formats(id: str) -> None:
    """A wrong format would fail at night, in front of somebody."""
    for _, name, spec, conversion in Formatter().parse(SENTENCES[id]):
        if name is not None:
            assert name.isidentifier(), name
            assert spec in FORMATS or spec in ("", "text"), spec
            assert conversion is None
    assert "{" not in say(Reason(id, {}), PLAIN)


def test_facts_are_told_in_the_dress() -> None:
    """The sentence of an open alert, by hand."""
    reason = Reason("alert: low water", {"left_L": 52.4, "limit_L": 61.05})
    assert say(reason, PLAIN).replace("\u00a0", " ") == "52 L of fresh water are left; the limit is 61 L."


def test_a_missing_or_empty_fact_is_unknown() -> None:
    """Never 0, never an error."""
    reason = Reason("alert: low water", {"left_L": None, "limit_L": float("nan")})
    assert say(reason, PLAIN) == "unknown of fresh water are left; the limit is unknown."


def test_an_id_without_a_sentence_is_shown_plainly() -> None:
    """At run time a forgotten sentence must not take the page away."""
    assert say(Reason("never heard of", {"litres": 3}), PLAIN) == "never heard of (litres 3)"


def test_a_fact_cannot_reach_into_objects(monkeypatch: pytest.MonkeyPatch) -> None:
    """A text with an attribute in it finds nothing, whoever wrote it."""
    monkeypatch.setitem(SENTENCES, "sly", "{x.__class__} {x[0]}")
    assert say(Reason("sly", {"x": "abc"}), PLAIN) == "unknown unknown"
