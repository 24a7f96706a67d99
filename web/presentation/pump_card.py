"""What one pump tells of its plumbing: the judge's verdict with the evidence drawn, and the strip."""

from dataclasses import dataclass

from monitor.clock import DAY_S, HOUR_S, Interval
from monitor.records import Estimate, Reason, WaterVerdict
from monitor.settings import Pump
from monitor.words.say import SENTENCES, named, say
from monitor.words.tongues import N_
from monitor.words.units import between, known, rate
from web.presentation.barcode import Barcode, barcode
from web.presentation.figures import Figure, Reader, from_estimate, of_subject, rests_href
from web.presentation.pump_runs import Moment, RunsKept
from web.presentation.rest_plot import BACK_S, RestPlot, rest_plot
from web.presentation.strip_looks import window
from web.watch import Record

UNJUDGED = N_("not enough known yet")
LEAST = 0.005
"""A verdict less likely than this is not worth a line."""
SHOWN_APART = ("leak_L_per_h", "tight_below_L_per_h", "leak_explained_pct")
"""Estimates that the verdict's own sentences and the chances of the others tell."""
COUNTED = {"run_hours": N_("ran"), "run_litres": N_("moved"), "run_starts": N_("starts")}
"""Estimates that are counted since the watch began, as one sentence names them."""
CALM = ("tight", "cooling heater", UNJUDGED)
"""Verdicts that nobody need be told of at once."""


@dataclass(frozen=True, slots=True)
class Other:
    """A verdict with its probability, drawn."""

    name: str
    told: str
    share: float


@dataclass(frozen=True, slots=True)
class PumpCard:
    name: str
    title: str
    verdict: str
    sure: str
    loses: str
    href: str
    """Where its leak, or its bound, says what it rests on; empty where neither is known."""
    calm: bool
    evidence: tuple[str, ...]
    verdicts: tuple[Other, ...]
    next_step: str
    bound: str
    plot: RestPlot | None
    figures: tuple[Figure, ...]
    counted: tuple[Figure, ...]
    strip: Barcode | None
    no_strip: str
    running: bool
    testing: bool


def pump_card(
    reader: Reader, record: Record | None, kept: RunsKept, pump: Pump, asked: tuple[float, float] | None
) -> PumpCard:
    """Everything of that pump; `asked` is the stretch of time that its strip shall show."""
    v = next((v for v in reader.snapshot.water.verdicts if v.pump == pump.name), None)
    strip, plot, no_strip = _drawn(reader, record, kept, pump, v, asked)
    running = reader.reading(pump.name, "running")
    test = reader.snapshot.water.guided
    leak = reader.estimate("leak_L_per_h", pump.name)
    bound, evidence = _evidence(v)
    figures, unknown = of_subject(reader, pump.name, (*SHOWN_APART, *COUNTED))
    counted = (from_estimate(reader, n, pump.name, reader.word(label)) for n, label in COUNTED.items())
    return PumpCard(
        name=pump.name,
        title=named(pump.name),
        verdict=_verdict(reader, v, leak),
        sure=""
        if v is None or v.verdict == UNJUDGED
        else reader.say("verdict sure", sure=_in_100(v.probability)),
        loses=_loses(reader, v),
        href=_href(reader, pump),
        calm=v is None or v.verdict in CALM,
        evidence=tuple(say(reason, reader.dress) for reason in evidence),
        verdicts=_verdicts(reader, v),
        next_step=say(v.next_step, reader.dress) if v is not None and v.next_step is not None else "",
        bound=say(bound, reader.dress) if bound is not None else _bound(reader, pump, v),
        plot=plot,
        figures=(*figures, *unknown),
        counted=tuple(f for f in counted if f.state != "unknown"),
        strip=strip,
        no_strip=no_strip,
        running=running is not None and not running.silent and bool(running.value),
        testing=test is not None and test.pump == pump.name and not test.done,
    )


def _drawn(
    reader: Reader, record: Record | None, kept: RunsKept, pump: Pump, v: WaterVerdict | None,
    asked: tuple[float, float] | None,
) -> tuple[Barcode | None, RestPlot | None, str]:  # fmt: skip
    """The strip and the evidence, or why there is none."""
    now_s = reader.snapshot.utc_s
    if now_s is None:
        return None, None, reader.say("strip without clock")
    if record is None:
        return None, None, reader.say("no record")
    shown = window(now_s, reader.dress.zone, asked)
    started = reader.estimate("run_starts", pump.name)
    now = Moment(reader.snapshot.at_s, now_s, None if started is None else started.value)
    hour_s = now_s // HOUR_S * HOUR_S
    runs = kept.read(record, pump, Interval(shown.start_s, shown.end_s), now)
    lately = kept.read(record, pump, Interval(hour_s - BACK_S, hour_s + HOUR_S), now)
    if runs is None or lately is None:
        return None, None, reader.say("no record")
    strip = barcode(reader, pump, shown, runs, default=asked is None)
    return strip, rest_plot(reader, lately, v), ""


def _verdict(reader: Reader, v: WaterVerdict | None, leak: Estimate | None) -> str:
    if v is not None:
        return reader.say("pump verdict", verdict=named(reader.word(verdict_name(v.verdict))))
    if leak is not None:
        return say(leak.reason, reader.dress)
    return reader.say("pump not judged")


def verdict_name(verdict: str) -> str:
    """What a verdict is called: by its rule's name where it is one of the alerts."""
    return SENTENCES.get(f"{verdict}: name", verdict)


def uncapped(name: str) -> str:
    """For the middle of a sentence."""
    return name[:1].lower() + name[1:]


def _in_100(probability: float) -> str:
    """Never more than 99 in 100: nobody knows that."""
    return f"{min(99, max(1, round(100 * probability))):d}"


def _evidence(v: WaterVerdict | None) -> tuple[Reason | None, list[Reason]]:
    """What the verdict rests on: the bound of a plumbing that is not suspected, and the rest."""
    found = list(v.evidence) if v is not None else []
    bounds = [] if v is None or v.L_per_h else [r for r in found if known(r.facts.get("bound_L_per_h"))]
    return (bounds[0] if bounds else None), [r for r in found if r not in bounds[:1]]


def _verdicts(reader: Reader, v: WaterVerdict | None) -> tuple[Other, ...]:
    """The verdict and what it may be instead, for the drawing; nothing where nothing else is in question."""
    if v is None or not v.others:
        return ()
    found = ((v.verdict, v.probability), *v.others)
    told = [(named(reader.word(verdict_name(name))), p) for name, p in found if p >= LEAST]
    return tuple(Other(name, reader.word("{n} in 100", n=_in_100(p)), p) for name, p in told)


def _loses(reader: Reader, v: WaterVerdict | None) -> str:
    """Litres an hour and a day, and the days of water that they cost."""
    if v is None or v.L_per_h is None or not known(v.L_per_h) or v.L_per_h <= 0:
        return ""
    band = ""
    if v.low_L_per_h is not None and v.high_L_per_h is not None:
        low, high = (rate(q, reader.dress) for q in (v.low_L_per_h, v.high_L_per_h))
        band = f" ({between(low, high, reader.dress)})"
    said = reader.say("leak loses", rate=rate(v.L_per_h, reader.dress), band=band, a_day=24 * v.L_per_h)
    plan = reader.snapshot.water.plan
    cost_s = plan.reason.facts.get("cost_s") if plan is not None else None
    if not isinstance(cost_s, int | float) or not cost_s >= HOUR_S:
        return said
    return f"{said} " + reader.say("leak costs", cost=cost_s / DAY_S)


def _href(reader: Reader, pump: Pump) -> str:
    names = (n for n in ("leak_L_per_h", "tight_below_L_per_h") if reader.estimate(n, pump.name))
    return next((rests_href(n, pump.name) for n in names), "")


def _bound(reader: Reader, pump: Pump, v: WaterVerdict | None) -> str:
    """The bound of the morning: "tight to within 0.06 L/h"; empty where a leak is suspected."""
    e = reader.estimate("tight_below_L_per_h", pump.name)
    if e is None or (v is not None and bool(v.L_per_h)):
        return ""
    if e.value is None or not known(e.value):
        return reader.say("bound withheld", why=say(e.reason, reader.dress))
    return reader.say("bound", bound=e.value, why=say(e.reason, reader.dress))
