"""The boat, the crew and the count of the proofs of the alerts.

What *sounds* is what calls somebody as an alarm or a warning: it began so, was raised to it, came back, or
lost the cause that explained it. A sounding alert is *false* unless the truth bears it out, and the truth is
the generator's own: how each proof asks it stands in its module. The crew see what sounds within a minute to
an hour, at night only alarms; what waits for the morning is seen when they are up.

The 95 % upper bound of a count n is Garwood's exact one (F. Garwood, Biometrika 28, 1936): the mean m at
which n or fewer come in one case of twenty, exp(-m) sum_{k<=n} m^k / k! = 0.05. EEMUA 191 and IEC 62682 ask
for no more than 144 alarms a day of an operator who is awake and paid to look (from memory): printed as a
yardstick, claimed of nobody who sleeps.
"""

from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from math import exp, sqrt
from pathlib import Path
from random import Random

from monitor.alerts.book import AlertBook
from monitor.errors import CommandError
from monitor.records import AlertChange, Finding, Severity
from monitor.settings_file import parse_settings
from tests.proof.harness import Row

DAY_S, HOUR_S, MINUTE_S = 86400.0, 3600.0, 60.0
UP_H, BED_H = 7.0, 23.0
CALLS = ("began", "raised", "came back", "released")
SOUNDS = (Severity.ALARM, Severity.WARNING)
AWAKE_OPERATOR_A_DAY = 144.0
ALERTS = tuple(
    f"monitor/alerts/{name}.py"
    for name in ("book", "facts", "findings", "limits", "lines", "rulebook", "rules", "silence")
)
"""The code that every proof of the alerts is about."""

TANK_L, UNUSABLE_L, CAPACITY_AH = 425.0, 15.0, 460.0

SETTINGS = parse_settings(
    """
    [boat]
    name = "Marram"
    crew = 3
    time_zone = "Etc/UTC"
    latitude = 42.5
    longitude = -8.9
    [[sources]]
    kind = "can"
    name = "backbone"
    interface = "virtual"
    channel = "a"
    [[sources]]
    kind = "can"
    name = "battery bus"
    interface = "virtual"
    channel = "b"
    [[sources]]
    kind = "mqtt"
    name = "broker"
    [[banks]]
    name = "house"
    capacity_Ah = 460
    cell_low_V = 2.65
    charge_limit_A = 230
    discharge_limit_A = 300
    feeds = [{ source = "backbone", instance = 0 }, { source = "battery bus", instance = 0 }]
    [[banks]]
    name = "navigation"
    role = "buffer"
    chemistry = "lead"
    nominal_V = 12
    capacity_Ah = 110
    feeds = [{ source = "backbone", instance = 1 }]
    [[tanks]]
    name = "tank"
    capacity_L = 425
    unusable_L = 15
    feeds = [{ source = "backbone", instance = 0 }]
    [[pumps]]
    name = "pump"
    flow_L_per_min = 11
    accumulator = { volume_L = 1.0, precharge_bar = 1.2, cut_in_bar = 1.4, cut_out_bar = 2.8 }
    feeds = [{ source = "backbone", instance = 0, indicator = 1, quantity = "running" },
             { source = "backbone", instance = 5, message = "dc point", quantity = "current" }]
    [[heaters]]
    name = "heater"
    volume_L = 40
    power_W = 750
    feeds = [{ source = "broker", topic = "heater/temperature", quantity = "temperature" },
             { source = "broker", topic = "heater/on", quantity = "on" }]
    [[chargers]]
    name = "panels"
    kind = "sun"
    into = "house"
    rated_W = 520
    feeds = [{ source = "broker", topic = "panels", quantity = "power" }]
    [[chargers]]
    name = "alternator"
    kind = "alternator"
    into = "house"
    rated_A = 90
    feeds = [{ source = "backbone", message = "dc point", instance = 2 }]
    [[chargers]]
    name = "shore charger"
    kind = "shore"
    into = "house"
    rated_A = 80
    feeds = [{ source = "backbone", message = "dc point", instance = 3 }]
    [[chargers]]
    name = "converter"
    kind = "converter"
    into = "navigation"
    rated_A = 25
    feeds = [{ source = "backbone", message = "dc point", instance = 4 }]
    [[loads]]
    name = "instruments"
    bank = "navigation"
    usual_W = 35
    [[supplies]]
    name = "shore"
    limit_A = 10
    feeds = [{ source = "backbone", instance = 0 }]
    [[supplies]]
    name = "generator supply"
    kind = "generator"
    limit_A = 14
    rated_W = 2800
    feeds = [{ source = "backbone", instance = 1 }]
    [[inverters]]
    name = "inverter"
    bank = "house"
    supply = "shore"
    rated_W = 2000
    feeds = [{ source = "backbone", instance = 0 }]
    [[engines]]
    name = "engine"
    feeds = [{ source = "backbone", instance = 0 }]
    [[engines]]
    name = "generator"
    drives = "generator"
    feeds = [{ source = "backbone", instance = 1 }]
    [[instruments]]
    name = "attitude"
    feeds = [{ source = "backbone", message = "attitude", instance = 0 }]
    [[instruments]]
    name = "cabin"
    feeds = [{ source = "backbone", message = "temperature", code = 2 }]
    [[services]]
    name = "engine oil"
    subject = "engine"
    every_h = 150
    [[services]]
    name = "strainer"
    subject = "pump"
    every_days = 30
    """,
    Path("."),
)


class Bridge:
    """The book of alerts, those who listen to it, and what sounded."""

    def __init__(self, seed: int) -> None:
        self.book = AlertBook()
        self._rng = Random(f"crew {seed}")
        self._to_see: list[tuple[float, str]] = []
        """When, by the clock that goes through boots, and which alert."""
        self.told: list[tuple[float, AlertChange]] = []
        """Everything that called, with its time."""

    def step(self, now_s: float, boot: int, at_s: float, findings: Sequence[Finding]) -> list[AlertChange]:
        """`now_s` is time since the first midnight; `boot` and `at_s` are the computer's."""
        for due in [due for due in self._to_see if due[0] <= now_s]:
            self._to_see.remove(due)
            try:
                self.book.acknowledge(due[1], boot, at_s)
            except CommandError:
                continue  # It was over, or another one tells of it.
        called = [c for c in self.book.step(boot, at_s, findings) if c.what in CALLS and c.state == "active"]
        for change in called:
            self.told.append((now_s, change))
            self._to_see.append((self._seen_s(now_s, change.severity), change.alert))
        return called

    def _seen_s(self, now_s: float, severity: Severity) -> float:
        after_s = now_s + MINUTE_S * float(60 ** self._rng.random())
        hour = after_s % DAY_S / HOUR_S
        if severity is Severity.ALARM or UP_H <= hour < BED_H:
            return after_s
        morning_s = after_s // DAY_S * DAY_S + UP_H * HOUR_S
        return (morning_s if hour < UP_H else morning_s + DAY_S) + 1800 * self._rng.random()


class Count:
    """What sounded in a stretch of ordinary life, by rule: true, close to the line, false."""

    def __init__(self) -> None:
        self.n: Counter[str] = Counter()

    def take(self, called: Collection[AlertChange], judge: Callable[[AlertChange], str]) -> None:
        for change in called:
            if change.severity not in SOUNDS:
                self.n["cautions"] += 1
                continue
            verdict = judge(change)
            self.n[verdict] += 1
            self.n[f"{verdict}: {change.rule}"] += 1

    def row(self, nights: float) -> Row:
        base = {"nights": nights, "false": 0, "close": 0, "true": 0, "cautions": 0}
        return base | {what: float(n) for what, n in sorted(self.n.items())}


def rates(rows: Sequence[Mapping[str, float]]) -> dict[str, float]:
    """Counts of all rows together, false ones in a hundred nights, and the bound."""
    total: Counter[str] = Counter()
    for row in rows:
        total.update({what: n for what, n in row.items() if not isinstance(n, str)})
    nights = total["nights"]
    per_day = (total["false"] + total["close"] + total["true"] + total["cautions"]) / nights
    found = {what: float(n) for what, n in sorted(total.items())}
    return found | {
        "false in 100 nights": 100 * total["false"] / nights,
        "false in 100 nights, 95 % upper bound": 100 * garwood(round(total["false"])) / nights,
        "alerts of all grades a day": per_day,
        "of the 144 a day for an awake operator, share": per_day / AWAKE_OPERATOR_A_DAY,
    }


def garwood(n: int, chance: float = 0.05) -> float:
    """The exact upper bound of a Poisson mean of which n were counted."""
    low, high = float(n), n + 10.0 + 5 * sqrt(n + 1)
    for _ in range(80):
        mean = (low + high) / 2
        term = below = exp(-mean) if mean < 700 else 0.0
        for k in range(1, n + 1):
            term *= mean / k
            below += term
        low, high = (mean, high) if below > chance else (low, mean)
    return (low + high) / 2
