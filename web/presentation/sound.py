"""What a page sounds and says of it: the data of the stream's event "sound"."""

from dataclasses import dataclass

from web.presentation.alert_cards import GRADES, open_count, rule_name
from web.presentation.figures import Reader


@dataclass(frozen=True, slots=True)
class Told:
    """`pattern` and `serial` as in `monitor.records.Sound`; `told` is what the bar says of an alarm."""

    pattern: str
    serial: int
    alert: str
    grade: str
    name: str
    told: str
    open: str
    any: bool
    """Somebody is called who has not answered yet."""


def sound(reader: Reader) -> Told:
    s = reader.snapshot
    now = s.calls.sound
    about = next((a for a in s.alerts if a.alert == now.alert), None)
    name = "" if about is None else rule_name(reader, about.rule, about.subject)
    hushed = now.alert != "" and now.pattern == "" and s.at_s < s.calls.hushed_until_s
    grade = "" if about is None else reader.word(GRADES[about.severity])
    id = "sound: hushed" if hushed else "sound: alarm" if now.pattern == "alarm" else ""
    return Told(
        now.pattern, now.serial, now.alert, grade, name,
        told=reader.say(id, name=name) if id else "",
        open=open_count(reader),
        any=any(a.state in ("active", "returned") for a in s.alerts),
    )  # fmt: skip
