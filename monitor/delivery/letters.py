"""A notice as a letter: a subject of one line, and a body that says what to do and ends with the id."""

from collections.abc import Sequence
from typing import NamedTuple

from monitor.delivery.tray import gravest_first
from monitor.records import Notice, Reason
from monitor.words.say import SENTENCES, named, say
from monitor.words.units import Dress

LONGEST_SUBJECT = 120


class Letter(NamedTuple):
    subject: str
    body: str


def letter(notices: Sequence[Notice], boat: str, dress: Dress, *, dropped: int = 0) -> Letter:
    """One notice, or a burst of them as one. `dropped`: so many had to be left out before it."""
    lost = [_say("ways: dropped", dress, count=dropped)] if dropped else []
    if len(notices) == 1:
        (notice,) = notices
        return Letter(
            _line(_subject(notice, boat, dress)), "\n".join([*_body(notice, dress), *lost, notice.id])
        )
    ordered = gravest_first(notices)
    lines = [f"- {_short(n, dress)}" for n in ordered]
    head = _say("ways: several", dress, boat=boat, count=len(notices), first=_title(ordered[0], dress))
    ids = _say("ways: ids", dress)
    return Letter(_line(head), "\n".join([*lines, *lost, ids, ", ".join(n.id for n in ordered)]))


def told(notice: Notice, dress: Dress) -> str:
    """What was seen."""
    return say(notice.reason, dress)


def todo(notice: Notice, dress: Dress) -> str:
    """What to do; empty where nothing is written."""
    return _of_rule(notice, "do", dress)


def otherwise(notice: Notice, dress: Dress) -> str:
    """What happens if nobody does; empty where nothing is written."""
    return _of_rule(notice, "otherwise", dress)


def _of_rule(notice: Notice, part: str, dress: Dress) -> str:
    id = f"{notice.rule}: {part}"
    return say(Reason(id, notice.reason.facts), dress) if id in SENTENCES else ""


def _title(notice: Notice, dress: Dress) -> str:
    """ "Voltage low (house)"."""
    if notice.kind != "alert":
        return _say(f"ways: kind {notice.kind}", dress)
    name = _of_rule(notice, "name", dress) or named(notice.rule)
    return f"{name} ({notice.subject})" if notice.subject else name


def _subject(notice: Notice, boat: str, dress: Dress) -> str:
    title = _title(notice, dress)
    if notice.severity is None:
        return _say("ways: subject", dress, boat=boat, title=title)
    grade = named(notice.severity.value)
    return _say("ways: subject of a grade", dress, boat=boat, title=title, grade=grade)


def _body(notice: Notice, dress: Dress) -> list[str]:
    lines = [told(notice, dress), _happened(notice, dress)]
    if notice.state in ("active", "acknowledged") and (do := todo(notice, dress)):
        lines += [do, _say("ways: if not", dress, text=otherwise(notice, dress))]
    if not notice.recorded:
        lines.append(_say("ways: not recorded", dress))
    return [_line(line, None) for line in lines if line]


def _short(notice: Notice, dress: Dress) -> str:
    grade = f"{named(notice.severity.value)}: " if notice.severity else ""
    return _line(f"{grade}{_title(notice, dress)}. {told(notice, dress)} {_happened(notice, dress)}", None)


def _happened(notice: Notice, dress: Dress) -> str:
    """When, and what became of it."""
    when = _say(
        "ways: when" if notice.utc_s is not None else "ways: when not known", dress, utc_s=notice.utc_s
    )
    return f"{when} {_say(f'ways: what {notice.what}', dress)}" if notice.what else when


def _line(text: str, longest: int | None = LONGEST_SUBJECT) -> str:
    """One line, whatever an instrument's name holds."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())[:longest]


def _say(id: str, dress: Dress, **facts: object) -> str:
    return say(Reason(id, facts), dress)
