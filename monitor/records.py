"""The nouns that travel through the watch. Frozen, without behaviour, units in their names.

`at_s` is always elapsed seconds of the current boot (see `monitor.clock`); `utc_s` is wall time.
Current is positive into the bank. Unknown is None (NaN inside an array), never 0.
"""

from array import array
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, NamedTuple


class Frame(NamedTuple):
    """One CAN frame as heard on `source`. Error and remote frames never become one."""

    at_s: float
    source: str
    can_id: int
    data: bytes
    extended: bool = True


class Message(NamedTuple):
    """One MQTT message. `retained` means the broker kept it: its age is unknown."""

    at_s: float
    source: str
    topic: str
    payload: bytes
    retained: bool = False


class Column(NamedTuple):
    """What one channel said, in order, at full rate. A NaN value is "not available"."""

    times_s: "array[float]"
    values: "array[float]"


@dataclass(frozen=True, slots=True)
class Minute:
    """All that was heard in one minute of a boot: `index` is elapsed seconds // 60.

    `state` holds what the estimators must not lose, as JSON values by estimator name.
    """

    boot: int
    index: int
    columns: Mapping[str, Column]
    state: Mapping[str, Any]


class EventKind(StrEnum):
    """What can stand in the log with its own exact times."""

    PUMP_RUN = "pump run"
    FULL = "full charge"
    FILL = "fill"
    GAP = "gap"
    MODE = "mode"
    NOTE = "note"
    FORECAST = "forecast"
    OUTCOME = "outcome"
    CHARGE = "charge"
    NIGHT = "night"
    VERDICT = "verdict"
    TEST = "test"
    SERVICE = "service"
    JOB = "job"
    RULE = "rule changed"
    SCORE = "score"
    CALIBRATION = "calibration"
    SOURCE = "source"
    CLOCK = "clock"
    STORE = "store"


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened to a subject; `end_s` is None while it lasts or has no length."""

    kind: EventKind
    subject: str
    boot: int
    start_s: float
    end_s: float | None = None
    facts: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a figure is what it is: an id of `monitor.words` and the numbers that go into it."""

    id: str
    facts: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Estimate:
    """A conclusion about a subject with a 90 % band and what it rests on.

    For figures in days `low` is the cautious day, and `beyond` says that the likely one lies
    past the horizon (`value` is then the horizon).
    """

    name: str
    subject: str
    at_s: float
    value: float | None
    low: float | None
    high: float | None
    reason: Reason
    beyond: bool = False


class Severity(StrEnum):
    """The grades of IMO A.1021(26) that an instrument like this may use."""

    ALARM = "alarm"
    WARNING = "warning"
    CAUTION = "caution"


class Finding(NamedTuple):
    """What one rule of `monitor.alerts.rules` says of one subject now.

    `holds` and `clears` are both False inside the deadband. None means unknown: an instrument is
    silent or a figure is missing, so nothing begins and nothing ends.
    """

    rule: str
    subject: str
    holds: bool | None
    clears: bool | None
    reason: Reason
    severity: Severity | None = None
    """Another grade than the rule's own: the rule's `raised`."""
    urgent: bool = False
    """Bad enough for the rule's `urgent_delay_s`."""
    under: tuple[tuple[str, str], ...] = ()
    """Root causes, by (rule, subject): while one of them is in force this is not an alert of its own.
    A cause that has causes itself stands beside them here."""


CHANGES = (
    "began", "raised", "came back", "escalated", "unshelved", "released", "taken back",
    "acknowledged", "shelved", "suppressed", "fell silent", "heard again", "went", "ended",
)  # fmt: skip
"""Everything that can happen to an alert. The first seven call somebody."""
CALLS = CHANGES[:7]


@dataclass(frozen=True, slots=True)
class AlertChange:
    """One transition of one alert. `alert` is the same text through an alert's whole life."""

    alert: str
    rule: str
    subject: str
    severity: Severity
    boot: int
    at_s: float
    state: str
    """What it is afterwards: "active" (nobody has seen it), "acknowledged", "returned" (over, nobody has seen
    it), "shelved", "suppressed" or "ended"."""
    reason: Reason
    """What was seen; of a suppressed one, what explains it."""
    what: str = "began"
    """What happened: one of `CHANGES`."""
    until_s: float | None = None
    """Of a shelved one: when it is taken off the shelf, in elapsed seconds of this boot."""


@dataclass(frozen=True, slots=True)
class Command:
    """What the crew asked for on a screen. `facts` depends on `kind`."""

    kind: str
    subject: str
    facts: Mapping[str, Any] = field(default_factory=dict)


class Reading(NamedTuple):
    """The newest of a channel. `value` None means "not available"; `silent` means it is old."""

    at_s: float
    value: float | None
    silent: bool


@dataclass(frozen=True, slots=True)
class Course:
    """How an amount has gone and will go, for the one time axis: parallel tuples by `utc_s`."""

    utc_s: tuple[float, ...]
    low: tuple[float, ...]
    likely: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Ebb:
    """Everything the Ahead page draws of one amount: energy in Wh or water in L."""

    what: str
    """ "energy" or "water"."""
    subject: str
    past: Course
    ahead: Course
    reserve: float
    capacity: float


@dataclass(frozen=True, slots=True)
class OpenAlert:
    """An alert that still wants somebody."""

    alert: str
    rule: str
    subject: str
    severity: Severity
    state: str
    """As an `AlertChange`'s; never "ended"."""
    since_s: float
    reason: Reason
    recorded: bool = True
    until_s: float | None = None
    """Of a shelved one, as in `AlertChange`."""
    because: Reason | None = None
    """Why it is suppressed."""
    children: tuple[tuple[str, str], ...] = ()
    """What it is the cause of, by (rule, subject)."""
    stale_s: float | None = None
    """Since when what it rests on has been silent; None while it is heard."""
    chatters: bool = False
    """It comes and goes."""
    escalated: bool = False
    """Nobody has seen it for so long that the second way out was taken."""


@dataclass(frozen=True, slots=True)
class SourceHealth:
    """How a source is. Counts are since the start of the watch."""

    name: str
    kind: str
    up: bool
    heard_at_s: float | None
    heard: int = 0
    undecodable: int = 0
    unknown: int = 0
    dropped: int = 0
    implausible: int = 0
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class Share:
    """One line of a ledger. `runs` are UTC intervals, None where they are not known."""

    what: str
    Wh: float
    confidence: float
    runs: tuple[tuple[float, float], ...] | None = None
    load: str = ""
    """The `LoadKind` it was told from; empty for a meter's, a known state's, and the standing load."""


@dataclass(frozen=True, slots=True)
class LoadKind:
    """A load that was learned from the steps it makes in the house current, named by the crew or not."""

    id: str
    start_W: float
    """What it adds when it has begun,"""
    watts: float
    """and what goes when it ends."""
    sd_W: float
    on_s: float
    """How long it usually runs, and the standard deviation of that time's logarithm."""
    on_spread: float
    how: str
    """ "cycles" by a thermostat, "pulses" of seconds, "runs" when somebody wants it, "varies" all along."""
    confidence: float
    runs: int
    nights: int
    seen_s: float
    """When it was last heard, in UTC."""
    name: str = ""
    suggestion: str = ""


@dataclass(frozen=True, slots=True)
class Usual:
    """What nights like this one usually use: their median, of so many at the same place."""

    used_Wh: float
    water_L: float | None
    nights: int
    place: str
    by_Wh: Mapping[str, float] = field(default_factory=dict)
    """By a share's `load`, or by `what` where it has none."""


@dataclass(frozen=True, slots=True)
class NightLedger:
    """What one night, or any span, used. made_Wh - used_Wh = net_Wh, and used_Wh is the sum of all that has a
    name in `by` and of what is unexplained, to the watt-hour; unknown is None. A line of `by` without a
    name (`what` is empty) is a learned load that nobody named, and a part of what is unexplained."""

    start_s: float
    end_s: float
    used_Wh: float | None
    made_Wh: float | None
    net_Wh: float | None
    by: tuple[Share, ...]
    unexplained_Wh: float | None
    water_L: float | None
    lowest_V: Mapping[str, float]
    pump_starts: int | None
    dusk_pct: float | None
    dawn_pct: float | None
    missing_s: float
    """How much of the night nothing was heard of the house bank."""
    made_estimated: bool
    made_by: tuple[Share, ...] = ()
    """What each source made, where it is metered."""
    gaps: tuple[tuple[float, float], ...] = ()
    """When nothing was heard: UTC intervals, a minute or longer."""
    place: str = ""
    """Where the boat lay for the most of it: a mode's place; empty where that is not known."""
    usual: Usual | None = None
    changed: tuple[Reason, ...] = ()
    """What was not as usual, the heaviest first."""
    air_C: float | None = None
    """How warm the air was in the mean, where a thermometer tells."""
    health: tuple[Reason, ...] = ()
    """What of its loads is not as it should be."""


@dataclass(frozen=True, slots=True)
class Account:
    """A span of the history explained, and drawn: power by load in even steps."""

    ledger: NightLedger
    step_s: float
    watts: Mapping[str, tuple[float, ...]]
    """By a share's `load`, or by `what` where it has none; "unexplained" and "made" beside them; from the
    ledger's begin on, NaN where nothing was heard. Together (without "made") they are what was used. [W]"""


PLACES = ("at anchor", "alongside", "sailing", "motoring")
PEOPLE = ("awake", "asleep", "away", "laid up")


@dataclass(frozen=True, slots=True)
class Mode:
    """Where the boat is and what her people do; `by_hand` when the crew said so."""

    place: str
    """One of `PLACES`."""
    people: str
    """One of `PEOPLE`."""
    by_hand: bool = False


@dataclass(frozen=True, slots=True)
class Flow:
    """One source of the house and what it gives; unknown is None."""

    name: str
    kind: str
    """ "sun", "alternator", "shore", "generator", "wind", "hydro", or "unmetered": what the banks took
    beyond every meter."""
    watts: float | None
    today_Wh: float | None
    week_Wh: float | None
    usual_W: float
    """What it puts into the house banks, net, while it runs in earnest: learned, or planned on."""
    learned: bool
    metered: bool


@dataclass(frozen=True, slots=True)
class Surviving:
    """One load of a blackout rehearsal, the one shed last first. `hours` is how long the buffer
    carries it together with all that stand before it in the order."""

    name: str
    watts: float
    hours: float
    hours_low: float


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """If the house side opened now: what the buffer bank carries, and for how long."""

    bank: str
    watts: float | None
    """What hangs on it now."""
    hours: float | None
    """How long it carries that, likely, and with nine chances in ten (`hours_low`)."""
    hours_low: float | None
    loads: tuple[Surviving, ...]
    reason: Reason


@dataclass(frozen=True, slots=True)
class ChargeOption:
    """One way to charge: run this source for so long, beginning by `latest_start_s` (UTC)."""

    source: str
    kind: str
    net_W: float
    learned: bool
    minutes: float
    latest_start_s: float | None
    dawn_low_pct: float
    """The cautious charge at dawn if that is done."""
    enough: bool
    """It suffices before the dawn in question, quiet hours kept."""


@dataclass(frozen=True, slots=True)
class ChargePlan:
    """Must we charge today? `needed` None where it is not known."""

    needed: bool | None
    dawn_s: float | None
    dawn_low_pct: float | None
    dawn_likely_pct: float | None
    options: tuple[ChargeOption, ...]
    reason: Reason


@dataclass(frozen=True, slots=True)
class PowerPicture:
    """What the Power page shows beyond values and estimates."""

    flows: tuple[Flow, ...] = ()
    rehearsals: tuple[Rehearsal, ...] = ()
    plan: ChargePlan | None = None


@dataclass(frozen=True, slots=True)
class WaterVerdict:
    """What the plumbing of one pump is found to be, with its evidence, the likeliest first named."""

    pump: str
    verdict: str
    """One of `monitor.estimation.plumbing.VERDICTS`."""
    probability: float
    others: tuple[tuple[str, float], ...]
    """Further verdicts and their probabilities, likeliest first."""
    evidence: tuple[Reason, ...]
    next_step: Reason | None
    """The next test or thing to do."""
    L_per_h: float | None = None
    low_L_per_h: float | None = None
    high_L_per_h: float | None = None


@dataclass(frozen=True, slots=True)
class Guided:
    """A guided test under way, or just concluded."""

    pump: str
    step: str
    """Which step it stands at, an id of `monitor.estimation.guided`."""
    say: Reason
    """What to do now, or what was found."""
    answers: tuple[tuple[str, Reason], ...] = ()
    """What the crew can answer: ids and their words."""
    since_s: float | None = None
    """Elapsed time at which the wait began, where it waits,"""
    wait_s: float | None = None
    """and how long it must last."""
    done: bool = False


@dataclass(frozen=True, slots=True)
class Filling:
    """A tank being filled, live."""

    tank: str
    litres: float
    """Poured in since it began."""
    L_per_min: float | None
    full_in_s: float | None
    level_pct: float


@dataclass(frozen=True, slots=True)
class WaterAge:
    """How old the water of one tank is; mixed by volume."""

    tank: str
    mean_days: float | None
    oldest_days: float | None
    source: str
    """Where the last fill came from, as the crew said it; empty where nobody did."""
    treated: bool | None


@dataclass(frozen=True, slots=True)
class RationStep:
    """One way of using water and the days it gives."""

    name: str
    L_a_head: float
    likely_days: float
    cautious_days: float
    gained_days: float
    """More than at the pace of now, cautious."""


@dataclass(frozen=True, slots=True)
class WaterPlan:
    """When water must be fetched, and what saving would give."""

    pace_L_a_head: float | None
    steps: tuple[RationStep, ...]
    leave_by_s: float | None
    """UTC: the latest time to leave for water, cautious; None where it is not known or beyond the horizon."""
    refill_L: float | None
    """So much would make the tanks full."""
    sealed_L: float
    reason: Reason


@dataclass(frozen=True, slots=True)
class Making:
    """What a watermaker has made and takes; unknown is None."""

    name: str
    running: bool | None
    today_L: float | None
    L_per_h: float | None
    Wh_per_L: float | None
    full_in_s: float | None


@dataclass(frozen=True, slots=True)
class Counter:
    """Something that falls due by use or by time."""

    name: str
    subject: str
    used: float
    limit: float
    unit: str
    """ "h", "L" or "days"."""
    due_in_days: float | None
    """At the usual pace; negative when overdue; None where the pace is not known."""


@dataclass(frozen=True, slots=True)
class WaterPicture:
    """What the Water page shows beyond values and estimates."""

    verdicts: tuple[WaterVerdict, ...] = ()
    guided: Guided | None = None
    fillings: tuple[Filling, ...] = ()
    ages: tuple[WaterAge, ...] = ()
    plan: WaterPlan | None = None
    making: tuple[Making, ...] = ()
    counters: tuple[Counter, ...] = ()


@dataclass(frozen=True, slots=True)
class Measured:
    """What a calibration found of a figure, or what was taken of one."""

    what: str
    """ "flow" [L/min], "drawdown" [L], "zero" [A], or "sounding", which is a table."""
    subject: str
    value: float | None = None
    half: float | None = None
    """Half of its 90 % band."""
    count: int = 0
    """From so many repeats, minutes or pairs."""
    table: tuple[tuple[float, float], ...] = ()
    """Readings [%] and litres, both rising."""
    covers: tuple[float, float] | None = None
    """Of a table: between these readings it was measured [%]."""
    before: float | None = None
    """What was believed until then,"""
    before_table: tuple[tuple[float, float], ...] = ()
    before_half: float | None = None
    utc_s: float | None = None
    """When it was taken."""


@dataclass(frozen=True, slots=True)
class Wizard:
    """A guided calibration under way, or one that has just ended."""

    what: str
    subject: str
    step: str
    say: Reason
    """The one thing that is asked for now, or how it ended."""
    note: Reason | None = None
    """What came in between."""
    heard: tuple[Reason, ...] = ()
    """What the watch hears of it just now."""
    answers: tuple[str, ...] = ()
    asks_litres: bool = False
    noted: tuple[Reason, ...] = ()
    """What was measured so far, in order."""
    found: Measured | None = None
    """To be taken or left."""
    done: bool = False


@dataclass(frozen=True, slots=True)
class Learned:
    """A figure that the watch reckons with, and how well it is known."""

    what: str
    """As of `Measured`, or "capacity" [Ah]."""
    subject: str
    how: str
    """ "set", "learned" or "measured"."""
    value: float | None
    half: float | None
    count: int = 0
    """Learned from so many runs, full charges, low ends or pieces; 0 where that does not apply."""
    since_utc_s: float | None = None


@dataclass(frozen=True, slots=True)
class FitOutPicture:
    """What the Fit-out page shows beyond values and estimates."""

    wizard: Wizard | None = None
    learned: tuple[Learned, ...] = ()
    taken: tuple[Measured, ...] = ()
    """What is in force, the newest first."""


@dataclass(frozen=True, slots=True)
class RuleChange:
    """What the settings or the crew have changed of one rule; None leaves it as it was."""

    rule: str
    subject: str = ""
    """Empty: whatever it is about."""
    limit: float | None = None
    when: Mapping[str, float] = field(default_factory=dict)
    """Other limits, by a place or a state of the people of `Mode`."""
    on_delay_s: float | None = None
    off_delay_s: float | None = None
    wakes: bool | None = None
    """A warning that sounds while all sleep, too."""


@dataclass(frozen=True, slots=True)
class Notice:
    """What is handed to the ways out: an alert's transition, or a sentence of the watch's own."""

    id: str
    """The same when it is told again because no confirmation came."""
    kind: str
    """ "alert", "flood", "test", "morning", "handover"."""
    at_s: float
    utc_s: float | None
    reason: Reason
    severity: Severity | None = None
    alert: str = ""
    rule: str = ""
    subject: str = ""
    state: str = ""
    what: str = ""
    recorded: bool = True
    second: bool = False
    """Nobody answered: for the ways that are kept for this, too."""


@dataclass(frozen=True, slots=True)
class Sound:
    """What is to be heard now. A tone of its own is sounded for each new `serial`."""

    pattern: str = ""
    """ "alarm" goes on until somebody has seen it, "warning" is a tone; empty is silence."""
    alert: str = ""
    serial: int = 0


class Job(NamedTuple):
    """Work aboard that explains what would be a fault otherwise."""

    name: str
    until_s: float
    """Elapsed seconds of this boot: no job is for ever."""


@dataclass(frozen=True, slots=True)
class Way:
    """How a way out to the crew stands."""

    name: str
    kind: str
    """ "mqtt", "message" or "loudspeaker"."""
    confirmed_utc_s: float | None = None
    """When it last confirmed something."""
    waiting: int = 0
    trouble: str = ""
    failing_s: float = 0.0
    """For how long nothing has got through although something was due."""


class RuleState(NamedTuple):
    """One rule about one subject, as the table shows it."""

    rule: str
    subject: str
    state: str
    """ "normal", "pending", "stale" (what it rests on is silent), or an open alert's state."""
    limit: float | None = None
    """The limit in force now, in the rule's own unit."""


@dataclass(frozen=True, slots=True)
class Calls:
    """What stands beside the open alerts."""

    sound: Sound = Sound()
    hushed_until_s: float = 0.0
    """An alarm's sound is silenced till then."""
    jobs: tuple[Job, ...] = ()
    shelf: tuple[tuple[str, str, float], ...] = ()
    """Everything that is put aside: rule, subject, until when in elapsed seconds of this boot."""
    flood: int = 0
    """How many alerts began within ten minutes, while that is a flood; 0 otherwise."""
    rules: tuple[RuleState, ...] = ()
    ways: tuple[Way, ...] = ()
    changes: tuple[RuleChange, ...] = ()
    """What the crew has changed in the rules, the settings' file left aside."""


@dataclass(frozen=True, slots=True)
class Snapshot:
    """All that the screens show of now: immutable, replaced whole."""

    serial: int
    at_s: float
    utc_s: float | None
    clock_trusted: bool
    values: Mapping[str, Reading]
    estimates: Mapping[tuple[str, str], Estimate]
    """By (name, subject)."""
    ebbs: tuple[Ebb, ...]
    alerts: tuple[OpenAlert, ...]
    sources: tuple[SourceHealth, ...]
    mode: Mode
    nights: tuple[NightLedger, ...]
    """The latest last; the one under way, if any, has end_s in the future."""
    darkness: tuple[tuple[float, float], ...]
    """Dusk to dawn in UTC seconds over the axis, past and coming."""
    troubles: tuple[Reason, ...]
    """What is wrong with the watch itself: the store, the clock."""
    demo: str = ""
    """What is simulated, in words, where it is."""
    power: PowerPicture = PowerPicture()
    water: WaterPicture = WaterPicture()
    loads: tuple[LoadKind, ...] = ()
    """The loads that were learned from the house current, the heaviest first."""
    calls: Calls = Calls()
    """What is sounded, put aside or explained, and by which rules."""
    fit_out: FitOutPicture = FitOutPicture()
