"""Every reason that the water estimates can give is a sentence with nothing left open in it."""

import re
from pathlib import Path

import pytest

from monitor.records import Reason
from monitor.words.say import say
from monitor.words.units import UNKNOWN, Dress
from monitor.words.water import SENTENCES

ESTIMATION = Path(__file__).parents[3] / "monitor" / "estimation"
FACTS = {
    "pumped_L": 12.0, "silent_s": 7200.0, "refills": 4, "bound_L_per_h": 0.05, "leak_L_per_h": 0.5,
    "low_L_per_h": 0.3, "high_L_per_h": 0.7, "leak_L_per_day": 12.0, "level_pct": 50.0,
}  # fmt: skip


def given_ids() -> set[str]:
    """The ids that stand in the code: after Reason( or as a reason for holding a level."""
    text = "".join((ESTIMATION / f"{name}.py").read_text() for name in ("tanks", "leak_told"))
    return set(re.findall(r'(?:Reason\(|self\._held = )"([^"]+)"', text))


def test_every_reason_has_a_sentence_and_every_sentence_a_reason() -> None:
    assert given_ids() == set(SENTENCES)


@pytest.mark.parametrize("id", sorted(SENTENCES))
def test_the_sentence_says_its_facts(id: str) -> None:
    said = say(Reason(id, FACTS), Dress())

    assert UNKNOWN not in said.replace("leak unknown", "")
    assert "{" not in said


def test_a_leak_is_suspected_in_litres_an_hour_and_a_day() -> None:
    said = say(Reason("leak suspected", FACTS), Dress()).replace("\u00a0", " ")

    assert "0.50 L/h" in said
    assert "12 L a day" in said
    assert said.startswith("Leak suspected")
