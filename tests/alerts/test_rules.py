"""The table of rules: every row can be acted on, and every word it needs is there."""

import importlib
import pkgutil
import re
from collections import Counter
from string import Formatter

import pytest

import monitor.words
from monitor.alerts.facts import Facts
from monitor.alerts.findings import findings
from monitor.alerts.rules import RULES, Rule
from monitor.records import Finding, Reading, Reason, Severity, SourceHealth
from monitor.words.say import SENTENCES, say
from monitor.words.units import UNKNOWN, Dress
from tests.alerts.boat import NOW_S, WELL, but, estimate

IN_TROUBLE = but(
    values={"heater temperature": Reading(NOW_S - 200, None, True)},
    estimates={
        ("charge_pct", "house"): estimate("charge_pct", "house", 31, 27),
        ("energy_days", "house"): estimate("energy_days", "house", 0.9, 0.6),
        ("left_L", "water"): estimate("left_L", "water", 5, 3),
    },
    sources=(*WELL.sources, SourceHealth("radio", "can", False, None, trouble="no such device")),
    running_s={"pump": 1000.0},
    fallen_L={"pump": 150.0},
)


@pytest.mark.parametrize("rule", RULES)
def test_every_rule_says_what_to_do_and_what_happens_otherwise(rule: str) -> None:
    """IEC 62682: an alert is something that wants a response; without one it would be a log entry."""
    for part in ("name", "do", "otherwise"):
        assert SENTENCES[f"{rule}: {part}"]


def test_no_text_is_left_over() -> None:
    """A rule's own words end in one of the three parts; nothing may be left of a rule that is gone."""
    parts = (": name", ": do", ": otherwise")
    heads = {key.rsplit(": ", 1)[0] for key in SENTENCES if key.endswith(parts)}

    assert heads == set(RULES)


@pytest.mark.parametrize("rule", RULES.values(), ids=lambda rule: rule.id)
def test_the_grade_is_the_time_to_respond(rule: Rule) -> None:
    """IMO A.1021(26) grades by urgency; the minutes are the project's: 10 min, 12 h, later."""
    slowest_s = {Severity.ALARM: 600, Severity.WARNING: 12 * 3600, Severity.CAUTION: float("inf")}
    assert rule.on_delay_s < rule.respond_s <= slowest_s[rule.severity]


@pytest.mark.parametrize("facts", [WELL, IN_TROUBLE], ids=["well", "in trouble"])
def test_every_reason_has_a_sentence_and_every_fact_it_needs(facts: Facts) -> None:
    found: list[Finding] = findings(facts)
    own = [f for f in found if f.reason.id.startswith("alert: ")]

    assert len(own) >= len(found) - 1  # the leak judge brings its own words
    for finding in own:
        fields = {name for _, name, _, _ in Formatter().parse(SENTENCES[finding.reason.id]) if name}
        assert fields <= finding.reason.facts.keys(), finding.reason.id


def test_what_is_told_can_be_read() -> None:
    told = {f.rule: say(f.reason, Dress()) for f in findings(IN_TROUBLE) if f.holds}

    assert told["low charge"] == (
        "The house bank is likely at 31\u00a0%, perhaps only 27\u00a0%; the limit is 30\u00a0%."
    )
    assert told["pump running on"].startswith("The pump has been running for 17\u00a0min")
    assert [text for text in told.values() if UNKNOWN in text] == []


def test_no_other_area_uses_the_same_words_for_something_else() -> None:
    areas = [
        importlib.import_module(f"monitor.words.{m.name}")
        for m in pkgutil.iter_modules(monitor.words.__path__)
    ]
    used = Counter(key for area in areas if area.__name__ != "monitor.words.say" for key in _sentences(area))

    assert [key for key in SENTENCES if used[key] != 1] == []


def test_the_words_advise_nothing_that_can_hurt() -> None:
    """Never open a battery switch under charge, never close off a relief valve: said, and only so."""
    texts = " ".join(SENTENCES.values()).lower()

    assert "never open the battery switch" in texts
    assert "never close off a relief valve" in texts
    forbidden = re.findall("never (?:open|turn) (?:a|the) battery switch", texts)
    assert texts.count("battery switch") == len(forbidden)


def _sentences(area: object) -> dict[str, str]:
    found = getattr(area, "SENTENCES", {})
    assert isinstance(found, dict)
    return found


def test_a_reason_is_kept_as_an_id_and_numbers() -> None:
    """What goes on the card has no finished sentence in it."""
    for finding in findings(IN_TROUBLE):
        assert isinstance(finding.reason, Reason)
        assert all(isinstance(v, str | int | float | None) for v in finding.reason.facts.values())
