"""The plumbing's watch: what it says before it knows, what it learns, and what it makes of bad input."""

import json
from array import array
from string import Formatter

import pytest

from monitor.alerts.rules import RULES as ALERT_RULES
from monitor.estimation.plumbing import VERDICTS, PlumbingWatch
from monitor.estimation.plumbing_told import FACTS, QUIET
from monitor.estimation.plumbing_verdicts import RULES, UNKNOWN
from monitor.estimation.watcher import Heard, Look, Quick, WaterHeard
from monitor.records import Column, Event, EventKind, Mode, Reading
from monitor.words.say import SENTENCES
from tests.alerts.boat import SETTINGS
from tests.estimation.water.pipework_watch import MODES, PipeWatch

ANCHORED = Mode("at anchor", "awake")


def minute(n: int, *events: Event, running_s: float | None = 0.0, **columns: Column) -> Heard:
    named = {name.replace("_", " "): column for name, column in columns.items()}
    water = WaterHeard(events, {"pump": running_s})
    return Heard(60.0 * n, None, 1, named, {}, ANCHORED, {}, water=water)


def run(start_s: float, end_s: float, **facts: object) -> Event:
    return Event(EventKind.PUMP_RUN, "pump", 1, start_s, end_s, {"litres": (end_s - start_s) / 6, **facts})


@pytest.fixture(scope="module")
def boat() -> PipeWatch:
    """One of the independent boats after three days in health, her pump's current and pressure known."""
    boat = PipeWatch(11, ("current", "pressure"))
    for _ in range(3):
        boat.day()
    return boat


def test_every_rule_is_answered_before_anything_is_known() -> None:
    watch = PlumbingWatch(SETTINGS)

    found = watch.findings()

    assert isinstance(watch, Quick)
    assert [(f.rule, f.subject) for f in found] == [(rule, "pump") for rule in RULES]
    assert {(f.holds, f.clears) for f in found} == {(None, None)}
    assert set(RULES) <= set(ALERT_RULES)
    (verdict,) = watch.verdicts()
    assert (verdict.pump, verdict.verdict, verdict.evidence) == ("pump", UNKNOWN, ())


@pytest.mark.parametrize("id", [QUIET, *FACTS, *(f"next: {v}" for v in (*VERDICTS, UNKNOWN))])
def test_every_reason_has_a_sentence_and_every_fact_it_needs(id: str) -> None:
    fields = {name for _, name, _, _ in Formatter().parse(SENTENCES[id]) if name}

    assert fields <= {"pump", *FACTS.get(id, ())}


@pytest.mark.parametrize("rule", RULES)
def test_what_can_hurt_is_said_where_it_can(rule: str) -> None:
    """Common practice of the trade: hot water scalds, a relief valve is never closed, a pump is off before
    it is worked on."""
    do = SENTENCES[f"{rule}: do"]
    if rule in ("burst", "relief valve weeps", "pump switch stuck"):
        assert "scald" in do
        assert "Never cap or close off a relief valve." in do
    if rule in ("burst", "pump dry", "pump switch stuck", "accumulator flat", "strainer clogging"):
        assert "off at its breaker" in do


@pytest.mark.parametrize("mode", MODES, ids=lambda mode: f"{mode.place} {mode.people}")
@pytest.mark.parametrize(
    ("kind", "rule"),
    [("burst", "burst"), ("dry", "pump dry"), ("stuck", "pump switch stuck"), ("signal", "pump silent")],
)
def test_what_cannot_wait_is_named_within_a_minute(boat: PipeWatch, kind: str, rule: str, mode: Mode) -> None:
    told = boat.another().run_on(kind, mode, minutes=2.0)

    after_s, what = told[0]
    assert what.split(" by ")[0] == rule
    assert after_s <= 60.0


def test_a_fault_that_is_over_clears_and_teaches_nothing(boat: PipeWatch) -> None:
    ill = boat.another()
    before = ill.watch.state()["pump"]["habits"]["lengths"]
    ill.run_on("burst", ANCHORED, minutes=3.0)
    end_s = ill.house.days * 86400.0 + 360.0
    ill.watch.look(Look(end_s, 1, {}, ANCHORED, {"pump": 0.0}, {"pump": None}))
    ill.watch.take(minute(int(end_s // 60), run(end_s - 200.0, end_s - 20.0)))

    assert next(f for f in ill.watch.findings() if f.rule == "burst").clears
    assert ill.watch.state()["pump"]["habits"]["lengths"] == before


def test_a_run_that_was_cut_off_teaches_nothing() -> None:
    watch = PlumbingWatch(SETTINGS)
    watch.take(minute(1, run(30.0, 45.0, cut=True)))

    assert watch.state()["pump"]["habits"]["lengths"] == {"guarded": [], "free": []}


def test_silence_is_neither_a_fault_nor_its_end(boat: PipeWatch) -> None:
    ill = boat.another()
    ill.run_on("burst", ANCHORED, minutes=2.0)
    ill.watch.look(Look(ill.house.days * 86400.0 + 400.0, 1, {}, ANCHORED, {"pump": None}, {"pump": None}))

    found = {f.rule: (f.holds, f.clears) for f in ill.watch.findings()}
    assert found["burst"] == found["pump dry"] == (None, None)


def test_what_is_learned_outlives_a_restart(boat: PipeWatch) -> None:
    state = json.loads(json.dumps(boat.watch.state()))
    again = PlumbingWatch(SETTINGS)
    again.restore(state)

    assert len(json.dumps(state)) < 2000
    assert again.state() == state


def test_bad_input_is_no_trouble() -> None:
    """NaN, an empty column, times that go back, pumps and tanks that are not in the settings."""
    watch = PlumbingWatch(SETTINGS)
    bad = Column(array("d", [70.0, 65.0, 80.0]), array("d", [float("nan"), -900.0, 1e9]))
    watch.take(minute(1, run(64.0, 81.0), pump_current=bad, pump_pressure=Column(array("d"), array("d"))))
    watch.take(minute(2, Event(EventKind.FILL, "no such tank", 1, 0.0), running_s=30.0))
    readings = {"pump current": Reading(200.0, None, False), "aft level": Reading(200.0, 50.0, True)}
    watch.look(Look(200.0, 1, readings, ANCHORED, {"pump": 50.0}, {}))
    watch.look(Look(190.0, 1, {}, ANCHORED, {}, {}))
    watch.new_boot()
    watch.take(minute(0))

    assert len(watch.findings()) == len(RULES)
    assert len(watch.verdicts()) == 1


def test_a_verdict_that_has_come_to_be_sure_is_told_once(boat: PipeWatch) -> None:
    ill = boat.another()
    list(ill.watch.events())
    ill.pipes.drawdown_share = 0.15
    ill.day(until_h=12.0)

    told = [e.facts["verdict"] for e in ill.watch.events()]
    assert told.count("accumulator flat") == 1
    assert ill.verdict().verdict == "accumulator flat"
    assert any(reason.id == "alert: accumulator flat" for reason in ill.verdict().evidence)
