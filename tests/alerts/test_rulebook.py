"""The rules as the settings and the crew change them: what goes before what, and what is refused."""

from pathlib import Path

import pytest

from monitor.alerts.limits import LIMITS
from monitor.alerts.rulebook import Rulebook
from monitor.alerts.rules import RULES
from monitor.errors import CommandError, SettingsError
from monitor.records import Mode, RuleChange
from monitor.settings_file import parse_settings
from tests.alerts.boat import SETTINGS, but, estimate, found

ANCHORED = Mode("at anchor", "awake")
BOAT = """
[boat]
name = "Test"
[[banks]]
name = "house"
capacity_Ah = 400
"""


def book(rules: str) -> Rulebook:
    return Rulebook(parse_settings(BOAT + rules, Path(".")))


def test_as_it_stands_a_limit_is_the_settings_own() -> None:
    assert Rulebook(SETTINGS).limit("low charge", "house", ANCHORED, 2) == 30
    assert Rulebook(SETTINGS).limit("low voltage", "house", ANCHORED, 2) == 12.0
    assert Rulebook(SETTINGS).limit("cut off", "house", ANCHORED, 2) is None


def test_this_subject_before_all_people_before_place_crew_before_settings() -> None:
    rules = """
    [[rules]]
    rule = "low charge"
    limit = 35
    when = { sailing = 45, asleep = 40 }
    [[rules]]
    rule = "low charge"
    subject = "house"
    limit = 25
    """
    found = book(rules)
    assert found.limit("low charge", "house", ANCHORED, 2) == 25
    assert found.limit("low charge", "other", ANCHORED, 2) == 35
    assert found.limit("low charge", "other", Mode("sailing", "awake"), 2) == 45
    assert found.limit("low charge", "other", Mode("sailing", "asleep"), 2) == 40

    crew = found.changed(RuleChange("low charge", "house", 50), 2)
    assert crew.limit("low charge", "house", ANCHORED, 2) == 50
    assert crew.reset("low charge", "house").limit("low charge", "house", ANCHORED, 2) == 25


def test_delays_and_sound_are_the_rules_own() -> None:
    rules = """
    [[rules]]
    rule = "leak suspected"
    on_delay_s = 60
    wakes = true
    """
    changed = book(rules).checked().rules

    assert (changed["leak suspected"].on_delay_s, changed["leak suspected"].wakes) == (60, True)
    assert changed["leak suspected"].off_delay_s == RULES["leak suspected"].off_delay_s
    assert changed["low charge"] == RULES["low charge"]


def test_what_the_crew_changed_outlives_a_restart() -> None:
    before = book("").changed(RuleChange("low charge", "", 40, {"sailing": 50}), 2)

    assert book("").restored(before.state()).crew == before.crew


@pytest.mark.parametrize(
    ("rules", "expected"),
    [
        ('[[rules]]\nrule = "low tide"', "no rule is called 'low tide'"),
        ('[[rules]]\nrule = "cut off"\nlimit = 3', "no limit to move"),
        ('[[rules]]\nrule = "low charge"\nlimit = 99', "limit: expected 5 to 90 %, got 99"),
        ('[[rules]]\nrule = "low charge"\nwhen = { asleep = 2 }', "when.asleep: expected 5 to 90 %"),
        (
            '[[rules]]\nrule = "low charge"\nwhen = { fishing = 40 }',
            "when.fishing: expected one of: at anchor",
        ),
        ('[[rules]]\nrule = "low voltage"\nlimit = 12', "'' is no bank"),
        ('[[rules]]\nrule = "low voltage"\nsubject = "house"\nlimit = 9', "expected 10.8 to 13 V"),
        ('[[rules]]\nrule = "cut off"\non_delay_s = 900', "contradicts the time to respond"),
        ('[[rules]]\nrule = "cut off"\nwakes = false', "an alarm always sounds"),
        ('[[rules]]\nrule = "low charge"\nlimit = 40\n' * 2, "stands there twice: they contradict"),
    ],
)
def test_what_cannot_be_is_named(rules: str, expected: str) -> None:
    with pytest.raises(SettingsError, match=expected.replace("[", "\\[")):
        book(rules).checked()


def test_the_crew_is_refused_in_the_same_words() -> None:
    with pytest.raises(CommandError, match="expected 5 to 90 %, got 99"):
        book("").changed(RuleChange("low charge", "", 99), 2)
    with pytest.raises(CommandError, match="nothing was changed"):
        book("").reset("low charge", "")


@pytest.mark.parametrize("rule", LIMITS)
def test_where_a_limit_stands_by_itself_lies_within_its_bounds(rule: str) -> None:
    row, subject = LIMITS[rule], "house"
    least, stands, most = (of(SETTINGS, subject, 2) for of in (row.least, row.stands, row.most))

    assert least <= stands <= most


def test_a_changed_limit_is_what_is_judged_by() -> None:
    facts = but(estimates={("charge_pct", "house"): estimate("charge_pct", "house", 38, 36)})
    assert found(facts, "low charge", "house").holds is False

    changed = Rulebook(SETTINGS).changed(RuleChange("low charge", "", 45), 2)
    told = found(but(estimates=dict(facts.estimates), rulebook=changed), "low charge", "house")
    assert told.holds
    assert told.reason.facts["limit_pct"] == 45
