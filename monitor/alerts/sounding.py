"""What is to be heard, and when it is heard again.

An alarm sounds until somebody has acknowledged it or it is over (MSC.302(87) 7.3.8); it can be silenced
for half a minute, no longer (7.3.5), and a further alarm ends that at once. A warning is one tone, repeated
every five minutes while it is unacknowledged (from memory: the same standard's limit) and somebody is
awake; while all sleep it waits, unless its rule wakes. A caution makes no sound.
"""

from collections.abc import Collection, Mapping, Sequence

from monitor.alerts.rules import RULES, Rule
from monitor.records import Mode, OpenAlert, Severity, Sound

HUSH_S = 30.0
AGAIN_S = 300.0


class Sounding:
    """Belongs to the pipeline. It has no memory of its own: after a restart what is unacknowledged sounds."""

    def __init__(self) -> None:
        self._told: dict[str, float] = {}
        """By alert: when its tone was last begun."""
        self._alarm = ""
        self._tone = Sound()
        self.hushed_until_s = 0.0

    def hush(self, at_s: float) -> None:
        """Somebody silenced it."""
        self.hushed_until_s = at_s + HUSH_S

    def take(
        self,
        at_s: float,
        alerts: Sequence[OpenAlert],
        called: Collection[str],
        mode: Mode,
        rules: Mapping[str, Rule] = RULES,
    ) -> None:
        """How things stand now. `alerts` are the open ones, the worst first; `called` those that have
        just begun, got worse, come back or lost what kept them out of hearing."""
        calling = [a for a in alerts if a.state == "active"]
        alarms = [a.alert for a in calling if a.severity is Severity.ALARM]
        fresh = [alert for alert in alarms if alert in called or alert not in self._told]
        if fresh:
            self.hushed_until_s = at_s
            self._begin(fresh[0], "alarm")
        self._alarm = alarms[0] if alarms else ""
        warnings = [a for a in calling if a.severity is Severity.WARNING]
        if self._tone.alert not in {a.alert for a in calling}:
            self._tone = Sound(serial=self._tone.serial)
        due = [a.alert for a in warnings if self._due(a, at_s, a.alert in called, mode, rules)]
        due = [] if alarms else due  # The gravest is heard; the tone follows when it has been seen.
        if due:
            self._begin(due[0], "warning")
        self._told = {a: s for a, s in self._told.items() if a in {c.alert for c in calling}}
        self._told |= dict.fromkeys([*fresh, *due], at_s)

    def now(self, at_s: float) -> Sound:
        """What is to be heard at this moment."""
        if self._alarm:
            pattern = "" if at_s < self.hushed_until_s else "alarm"
            return Sound(pattern, self._alarm, self._tone.serial)
        return self._tone

    def _begin(self, alert: str, pattern: str) -> None:
        self._tone = Sound(pattern, alert, self._tone.serial + 1)

    def _due(
        self, alert: OpenAlert, at_s: float, called: bool, mode: Mode, rules: Mapping[str, Rule]
    ) -> bool:
        if asleep(mode) and not rules[alert.rule].wakes:
            return False
        told_s = self._told.get(alert.alert)
        return called or told_s is None or at_s - told_s >= AGAIN_S


def asleep(mode: Mode) -> bool:
    """Whether nobody is on watch: under way somebody always is."""
    return mode.people == "asleep" and mode.place in ("at anchor", "alongside")
