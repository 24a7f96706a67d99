"""A pump's flow by bucket, from frames on the bus to the litres of its next run, and back again."""

import json
from collections.abc import Iterator
from dataclasses import replace

import pytest

from monitor.clock import HOUR_S
from monitor.errors import CommandError
from monitor.estimation.bands import BAND_90
from monitor.pipeline.watch import Pipeline
from monitor.records import Command, Event, EventKind, Frame, Measured, Message
from monitor.settings import Settings
from simulators.life import Life
from simulators.voyage import Voyage
from tests.pipeline.boat import START_UTC_S, Shelf, settings_of

PUMP = "pressure pump"
TRUE_L_PER_MIN = 9.7
"""What the simulated pump moves; the settings say 11."""
FIRST_S, APART_S = START_UTC_S + 1800.0, 300.0
BUCKET_L = 10.0


class Buckets(Voyage):
    """A night at anchor in which somebody draws a litre and then five buckets from a cold tap."""

    def _life(self) -> Life:
        life = super()._life()
        water = life.boat.water
        water.flow_L_per_s = TRUE_L_PER_MIN / 60
        water.draw(FIRST_S, 1.0, 6.0, 0.0)
        for n in range(5):
            water.draw(FIRST_S + (n + 1) * APART_S, BUCKET_L, 8.0, 0.0)
        return life


class Aboard:
    """The voyage passing through a pipeline, and somebody who says things in between."""

    def __init__(self) -> None:
        voyage = Buckets("quiet-anchorage", 3, START_UTC_S, 2.0 * HOUR_S / 86400, 5.0)
        self.items: Iterator[Frame | Message] = iter(voyage)
        self.settings, self.shelf = settings_of(voyage), Shelf()
        self.pipeline = self.begun(self.settings)
        self.at_s = START_UTC_S

    def begun(self, settings: Settings) -> Pipeline:
        return Pipeline(settings, self.shelf, self.shelf.begin_boot("test"), recorded=True)

    def until(self, at_s: float) -> None:
        batch = []
        for item in self.items:
            batch.append(item)
            if item.at_s >= at_s:
                break
        self.pipeline.intake(batch)
        self.at_s = at_s

    def says(self, action: str, **facts: object) -> None:
        told = {"action": action, **facts}
        self.pipeline.command(Command("calibration", PUMP, told), self.at_s)

    def back(self) -> None:
        self.pipeline.command(Command("calibration back", PUMP, {"what": "flow"}), self.at_s)

    @property
    def step(self) -> str:
        wizard = self.pipeline.snapshot(self.at_s).fit_out.wizard
        return "" if wizard is None else wizard.step

    def calibrated(self) -> None:
        """Three buckets, and the result taken."""
        self.until(FIRST_S - 120)
        self.says("start", what="flow")
        self.until(FIRST_S + 120)
        for n in range(3):
            assert self.step == "draw", n
            self.until(FIRST_S + (n + 1) * APART_S + 200)
            assert self.step == "say", n
            self.says("litres", litres=BUCKET_L)
        assert self.step == "result"
        self.says("take")

    def runs_L(self, since_s: float) -> float:
        runs = [e for e in self.shelf.happened if e.kind is EventKind.PUMP_RUN and e.start_s >= since_s]
        return sum(float(e.facts["litres"]) for e in runs)


@pytest.fixture(scope="module")
def aboard() -> Aboard:
    """Once for all: taken after three buckets, with two more to come."""
    found = Aboard()
    found.calibrated()
    return found


def flow_of(settings: Settings) -> float:
    return next(p.flow_L_per_min for p in settings.pumps if p.name == PUMP)


def test_the_bucket_finds_the_pumps_true_flow(aboard: Aboard) -> None:
    (taken,) = aboard.pipeline.snapshot(aboard.at_s).fit_out.taken

    assert taken.half is not None
    assert taken.value == pytest.approx(TRUE_L_PER_MIN, abs=taken.half)
    assert taken.half < 0.05 * TRUE_L_PER_MIN
    assert (taken.before, taken.count) == (11.0, 3)


def test_it_stands_in_the_log_with_what_was_before(aboard: Aboard) -> None:
    (event,) = [e for e in aboard.shelf.happened if e.kind is EventKind.CALIBRATION]

    assert (event.subject, event.facts["what"], event.facts["before"]) == (PUMP, "flow", 11.0)


def test_the_next_bucket_is_told_as_the_litres_that_stand_in_it(aboard: Aboard) -> None:
    """Ten litres in the bucket: by 11 L/min the watch would have told 11.3."""
    begin_s = FIRST_S + 4 * APART_S - 10
    aboard.until(begin_s + 220)

    assert aboard.runs_L(begin_s) == pytest.approx(BUCKET_L, rel=0.03)


def test_a_restart_reckons_with_it_and_a_changed_settings_file_does_not(aboard: Aboard) -> None:
    assert flow_of(aboard.begun(aboard.settings).settings) == pytest.approx(TRUE_L_PER_MIN, rel=0.05)
    pumps = [p.model_copy(update={"flow_L_per_min": 12.5}) for p in aboard.settings.pumps]
    edited = aboard.settings.model_copy(update={"pumps": pumps})

    assert flow_of(aboard.begun(edited).settings) == 12.5


def put(pipeline: Pipeline, found: Measured) -> None:
    """As the event of what was taken tells it."""
    told = {"what": found.what, "value": found.value, "half": found.half, "table": found.table, "count": 3}
    event = Event(EventKind.CALIBRATION, found.subject, 1, 0.0, None, told)
    pipeline.put_in_force(event, 0.0)


def fresh() -> Aboard:
    aboard = Aboard()
    aboard.until(START_UTC_S + 600)
    return aboard


def test_a_drawdown_is_what_the_leak_judge_reckons_with() -> None:
    aboard = fresh()
    put(aboard.pipeline, Measured("drawdown", PUMP, 0.5, 0.02))

    assert aboard.pipeline.water.judges[PUMP].drawdown_L == 0.5


def test_a_table_is_gone_by_at_once_and_back_again() -> None:
    """Half of the sender's travel: by the new table 60 L and not what the settings say."""
    aboard = fresh()
    tank = aboard.pipeline.water.tanks["midship"]
    before = tank.estimates(0.0)[0].value
    put(aboard.pipeline, Measured("sounding", "midship", table=((0.0, 0.0), (100.0, 60.0))))
    table = aboard.pipeline.water.tanks["midship"].further(0.0)[0]
    after = aboard.pipeline.water.tanks["midship"].estimates(0.0)[0].value
    assert before is not None
    assert after is not None
    assert after < 60 < before, table
    aboard.pipeline.command(Command("calibration back", "midship", {"what": "sounding"}), aboard.at_s)

    assert aboard.pipeline.water.tanks["midship"].estimates(0.0)[0].value == pytest.approx(before, abs=0.01)


def test_a_zero_is_the_counters_offset_and_goes_back() -> None:
    """Prior: 0 ± 0.15 A. Measured 0.12 ± 0.011 A (sd): 0.12 / (1 + (0.011/0.15)²) = 0.1194 A, known to
    0.011 / √(1 + (0.011/0.15)²) = 0.01097 A."""
    aboard = fresh()
    tracker = aboard.pipeline.energy.trackers["house"]
    before = (tracker.offset_A, tracker.offset_sd_A)
    put(aboard.pipeline, Measured("zero", "house", 0.12, 0.011 * BAND_90))
    assert tracker.offset_A == pytest.approx(0.12 / (1 + (0.011 / before[1]) ** 2), abs=1e-6)
    assert tracker.offset_sd_A == pytest.approx(0.011, rel=0.01)
    aboard.pipeline.command(Command("calibration back", "house", {"what": "zero"}), aboard.at_s)

    assert (tracker.offset_A, tracker.offset_sd_A) == pytest.approx(before)


def test_what_is_remembered_is_understood_after_a_restart() -> None:
    aboard = fresh()
    put(aboard.pipeline, Measured("sounding", "midship", table=((0.0, 0.0), (100.0, 60.0))))
    put(aboard.pipeline, Measured("zero", "house", 0.12, 0.02))
    aboard.shelf.recalled = json.loads(json.dumps(aboard.shelf.recall()))
    aboard.shelf.minutes.clear()
    again = aboard.begun(aboard.settings)

    assert [replace(m, utc_s=None) for m in again.snapshot(0.0).fit_out.taken] == [
        replace(m, utc_s=None) for m in aboard.pipeline.snapshot(aboard.at_s).fit_out.taken
    ]
    assert again.snapshot(0.0).troubles == ()


def test_it_can_be_made_as_it_was() -> None:
    aboard = fresh()
    put(aboard.pipeline, Measured("flow", PUMP, 9.7, 0.3))
    assert flow_of(aboard.pipeline.settings) == 9.7
    aboard.back()

    assert flow_of(aboard.pipeline.settings) == 11.0
    assert aboard.pipeline.snapshot(aboard.at_s).fit_out.taken == ()
    told = [e.facts for e in aboard.shelf.happened if e.kind is EventKind.CALIBRATION]
    assert ["as it was" in facts for facts in told] == [False, True]
    with pytest.raises(CommandError, match="taken back"):
        aboard.back()


def test_nothing_changes_before_it_is_taken() -> None:
    aboard = fresh()
    aboard.says("start", what="flow")

    assert aboard.pipeline.settings is aboard.settings
