"""The report's alerts: those that somebody could hear, each once, from its begin to its end."""

from monitor.records import AlertChange, Reason, Severity
from monitor.report import alerts_of
from monitor.words.units import Dress

SEEN = Reason("alert: charge unknown", {"bank": "house"})
CAUSE = Reason("alert: grouped", {"rule": "low voltage", "subject": "house"})


def change(
    alert: str, what: str, state: str, at_s: float, reason: Reason = SEEN
) -> tuple[AlertChange, float]:
    made = AlertChange(alert, "charge unknown", "house", Severity.CAUTION, 1, at_s, state, reason, what)
    return made, at_s


def test_what_its_cause_explained_all_along_is_no_alert_of_its_own() -> None:
    lives = [change("a", "began", "suppressed", 0.0, CAUSE), change("a", "ended", "ended", 60.0)]

    assert alerts_of(lives, Dress()) == []


def test_what_was_released_begins_when_it_was_heard() -> None:
    lives = [
        change("a", "began", "suppressed", 0.0, CAUSE),
        change("a", "released", "active", 60.0),
        change("a", "acknowledged", "acknowledged", 90.0),
        change("a", "ended", "ended", 120.0),
    ]
    (told,) = alerts_of(lives, Dress())

    assert (told["began"], told["ended"]) == ("1970-01-01T00:01:00Z", "1970-01-01T00:02:00Z")
    assert told["because"] == "The charge of the house bank is unknown until the first full charge."
    assert not told["open"]


def test_what_is_put_aside_is_open() -> None:
    lives = [change("a", "began", "active", 0.0), change("a", "shelved", "shelved", 60.0)]
    (told,) = alerts_of(lives, Dress())

    assert told["open"]
    assert told["ended"] is None
