"""The guided calibrations: their steps, what they refuse, and their sums by hand."""

from array import array
from collections.abc import Iterable, Mapping
from math import sqrt
from pathlib import Path
from typing import Any

import pytest
from scipy.stats import t as student  # type: ignore[import-untyped]

from monitor.errors import CommandError
from monitor.estimation.accumulator import pump_drawdown_L
from monitor.estimation.bands import BAND_90
from monitor.estimation.calibration import CalibrationWatch
from monitor.estimation.calibration_sounding import completed, rises
from monitor.estimation.calibration_statistics import STUDENT_90, mean_of
from monitor.estimation.calibration_steps import Now
from monitor.estimation.watcher import Heard, Look
from monitor.records import Column, Command, Event, EventKind, Measured, Mode, Reading, Wizard
from monitor.settings import Settings
from monitor.settings_file import parse_settings

SAMPLE = Path(__file__).parents[2] / "deploy" / "settings.sample.toml"
PUMP, TANK, BANK = "pressure pump", "midship", "house"
ANCHORED = Mode("at anchor", "awake")


def settings() -> Settings:
    return parse_settings(SAMPLE.read_text("utf-8"), SAMPLE.parent)


class Crew:
    """Somebody who calibrates, and the minutes that pass meanwhile."""

    def __init__(self) -> None:
        self.watch = CalibrationWatch(settings())
        self.at_s = 0.0
        self.values: dict[str, float] = {f"{TANK} level": 20.0, f"{BANK} current": 0.12, "attitude heel": 0.5}
        self.mode = ANCHORED
        self.running_s: dict[str, float | None] = {PUMP: 0.0}
        self.minute()

    def readings(self) -> Mapping[str, Reading]:
        return {name: Reading(self.at_s, value, False) for name, value in self.values.items()}

    def minute(self, **levels: Iterable[float]) -> None:
        """A minute passes; `level` or `current` are its readings, else what stands."""
        start_s, self.at_s = self.at_s, self.at_s + 60.0
        columns = {}
        for name, value in self.values.items():
            given = levels.get(name.rpartition(" ")[2])
            said = [value] * 6 if given is None else list(given)
            times = [start_s + 60.0 * n / len(said) for n in range(len(said))]
            columns[name] = Column(array("d", times), array("d", said))
        water = Heard(0.0, None, 1, {}, {}, self.mode, {}).water._replace(running_s=self.running_s)
        self.watch.take(Heard(start_s, None, 1, columns, self.readings(), self.mode, {}, water=water))
        self.look()

    def look(self) -> None:
        self.watch.look(Look(self.at_s, 1, self.readings(), self.mode, self.running_s, {}))

    def says(self, subject: str, action: str, **facts: Any) -> None:
        self.watch.wish(Command("calibration", subject, {"action": action, **facts}), self.at_s, None)

    def ran(self, seconds: float, **facts: Any) -> None:
        """The pump has run for so long and stopped."""
        self.at_s += seconds
        self.watch.ran(
            Event(EventKind.PUMP_RUN, PUMP, 1, self.at_s - seconds, self.at_s, {"litres": 1.0} | facts)
        )

    @property
    def sees(self) -> Wizard:
        now = Now(self.at_s, self.readings(), self.mode, self.running_s)
        wizard = self.watch.wizard(now)
        assert wizard is not None
        return wizard

    @property
    def between(self) -> str:
        note = self.sees.note
        return "" if note is None else note.id

    @property
    def found(self) -> Measured:
        found = self.sees.found
        assert found is not None, self.sees
        return found


class TestStatistics:
    def test_standard_error_of_twenty_temperatures(self) -> None:
        """GUM (JCGM 100:2008) 4.4.3, table 1, from memory: twenty observations, mean 100.14 °C, s = 1.49 °C,
        standard uncertainty of the mean 0.33 °C."""
        told = [
            96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
            100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.79,
        ]  # fmt: skip
        mean = mean_of(told)

        assert mean.value == pytest.approx(100.14, abs=0.01)
        assert mean.half / STUDENT_90[-1] == pytest.approx(0.33, abs=0.005)

    def test_students_factors(self) -> None:
        """SciPy's t distribution, 95 % one-sided."""
        for freedom, factor in enumerate(STUDENT_90, 1):
            assert factor == pytest.approx(student.ppf(0.95, freedom), abs=1e-3)

    def test_three_repeats_by_hand(self) -> None:
        """10.2, 10.4, 10.6: mean 10.4, s = 0.2, s/√3 = 0.1155, times t(2) = 2.920: 0.3372."""
        assert mean_of([10.2, 10.4, 10.6]) == pytest.approx((10.4, 0.3372), abs=1e-4)

    def test_repeats_that_agree_by_chance_are_no_surer_than_they_can_be_read(self) -> None:
        """Scatter none, each read to 0.1, all alike to 0.05: 1.645 √(0.1²/2 + 0.05²) = 0.1425."""
        assert mean_of([10.0, 10.0], 0.1, 0.05).half == pytest.approx(
            BAND_90 * sqrt(0.005 + 0.0025), abs=1e-6
        )


class TestBucket:
    def drawn(self, crew: Crew, litres: float, *seconds: float) -> None:
        for each in seconds:
            crew.ran(each)
        crew.says(PUMP, "litres", litres=litres)

    def test_three_buckets_by_hand(self) -> None:
        """10 L in 57.5 s, 60.0 s and in two runs of 29.0 s: 10.435, 10.000 and 10.345 L/min, mean 10.260;
        s = 0.2295, s/√3 = 0.1325, times 2.920 = 0.3869; with the bucket's mark, 1 % of it alike in all:
        √(0.3869² + (1.645 · 0.1026)²) = 0.4220."""
        crew = Crew()
        crew.says(PUMP, "start", what="flow")
        assert (crew.sees.step, crew.sees.answers) == ("fill", ())
        crew.ran(2.0)
        assert crew.sees.step == "draw"
        self.drawn(crew, 10.0, 57.5)
        self.drawn(crew, 10.0, 60.0)
        assert "enough" in crew.sees.answers
        self.drawn(crew, 10.0, 29.0, 29.0)

        assert crew.sees.step == "result"
        assert crew.found.value == pytest.approx(10.260, abs=1e-3)
        assert crew.found.half == pytest.approx(0.4220, abs=2e-3)
        assert crew.found.before == 11.0

    def test_nothing_is_told_to_the_rest_until_it_is_taken(self) -> None:
        crew = Crew()
        crew.says(PUMP, "start", what="flow")
        crew.ran(2.0)
        for seconds in (57.0, 57.5, 58.0):
            self.drawn(crew, 10.0, seconds)
        assert list(crew.watch.events()) == []
        crew.says(PUMP, "take")
        (event,) = crew.watch.events()

        assert event.kind is EventKind.CALIBRATION
        assert event.subject == PUMP
        assert event.facts["what"] == "flow"
        assert event.facts["before"] == 11.0
        assert event.facts["value"] == pytest.approx(10.436, abs=5e-3)

    def test_left_is_left(self) -> None:
        crew = Crew()
        crew.says(PUMP, "start", what="flow")
        crew.ran(2.0)
        for seconds in (57.0, 57.5, 58.0):
            self.drawn(crew, 10.0, seconds)
        crew.says(PUMP, "leave")

        assert list(crew.watch.events()) == []
        assert crew.watch.wizard(Now(crew.at_s, {}, ANCHORED, {})) is None

    def test_a_bucket_that_does_not_count_is_drawn_again(self) -> None:
        crew = Crew()
        crew.says(PUMP, "start", what="flow")
        crew.ran(2.0)
        crew.ran(40.0)
        crew.says(PUMP, "again")
        assert crew.between == "calibration note: again"
        self.drawn(crew, 10.0, 57.5)

        assert [r.facts["ran"] for r in crew.sees.noted] == [57.5]

    def test_a_run_too_short_to_be_timed_does_not_count(self) -> None:
        crew = Crew()
        crew.says(PUMP, "start", what="flow")
        crew.ran(2.0)
        self.drawn(crew, 0.5, 3.0)

        assert crew.sees.noted == ()
        assert crew.between == "calibration note: short"

    def test_two_that_differ_want_a_third_and_three_that_differ_are_refused(self) -> None:
        crew = Crew()
        crew.says(PUMP, "start", what="flow")
        crew.ran(2.0)
        self.drawn(crew, 10.0, 50.0)
        self.drawn(crew, 10.0, 70.0)
        crew.says(PUMP, "enough")
        assert crew.between == "calibration note: apart"
        self.drawn(crew, 10.0, 90.0)

        assert (crew.sees.say.id, crew.sees.done) == ("calibration over: apart", True)

    def test_gallons_said_for_litres_are_refused(self) -> None:
        """2.6 (gallons) where 10 L were: 2.7 L/min against 11 is under a fourth."""
        crew = Crew()
        crew.says(PUMP, "start", what="flow")
        crew.ran(2.0)
        for seconds in (57.0, 57.5, 58.0):
            self.drawn(crew, 2.6, seconds)

        assert crew.sees.say.id == "calibration over: not plausible"

    def test_a_running_pump_is_waited_for(self) -> None:
        crew = Crew()
        crew.says(PUMP, "start", what="flow")
        crew.ran(2.0)
        crew.ran(57.0)
        crew.running_s = {PUMP: 1.0}
        crew.look()
        with pytest.raises(CommandError, match="still running"):
            crew.says(PUMP, "litres", litres=10.0)

    def test_a_lost_signal_begins_that_one_anew(self) -> None:
        crew = Crew()
        crew.says(PUMP, "start", what="flow")
        crew.ran(2.0)
        crew.ran(57.0)
        crew.running_s = {PUMP: None}
        crew.look()

        assert crew.sees.step == "fill"
        assert crew.between == "calibration note: lost"

    @pytest.mark.parametrize("litres", [None, 0.0, -1.0, 61.0])
    def test_what_is_no_bucket_is_refused_and_nothing_is_lost(self, litres: float | None) -> None:
        crew = Crew()
        crew.says(PUMP, "start", what="flow")
        crew.ran(2.0)
        crew.ran(57.0)
        with pytest.raises(CommandError, match="60 L"):
            crew.says(PUMP, "litres", litres=litres)

        assert crew.sees.step == "say"


class TestJug:
    def test_three_jugs_against_boyles_law(self) -> None:
        """V = 1 L at 1.2 bar, switched at 1.4 and 2.8 bar, all gauge; absolute with 1.013 bar more:
        V_d = 1 · 2.213 (1/2.413 - 1/3.813) = 2.213 · 0.15216 = 0.3367 L. Jugs of 0.33, 0.34 and 0.34 L:
        mean 0.3367; s/√3 = 0.00333, times 2.920 = 0.00973; 1 % alike: 1.645 · 0.003367 = 0.00554; together
        0.0112 L."""
        boyle_L = 1.0 * (1.2 + 1.013) * (1 / (1.4 + 1.013) - 1 / (2.8 + 1.013))
        crew = Crew()
        crew.says(PUMP, "start", what="drawdown")
        crew.ran(2.0)
        for litres in (0.33, 0.34, 0.34):
            crew.ran(1.9)
            crew.says(PUMP, "litres", litres=litres)

        assert boyle_L == pytest.approx(0.3367, abs=1e-4)
        assert crew.sees.say.facts["promised"] == pytest.approx(boyle_L, rel=1e-3)
        assert crew.found.value == pytest.approx(0.3367, abs=1e-4)
        assert crew.found.half == pytest.approx(0.0112, abs=2e-4)
        assert crew.found.before == pytest.approx(boyle_L, rel=1e-3)

    def test_it_is_what_one_refill_moves(self) -> None:
        pump = settings().pumps[0].model_copy(update={"drawdown_L": 0.5})

        assert pump_drawdown_L(pump) == 0.5


class TestZero:
    def begun(self) -> Crew:
        crew = Crew()
        crew.says(BANK, "start", what="zero")
        return crew

    def listened(self, crew: Crew, *amps: float) -> None:
        crew.says(BANK, "done")
        for each in amps:
            crew.minute(current=[each - 0.01, each + 0.01] * 3)

    def test_five_minutes_by_hand(self) -> None:
        """Means of 0.118, 0.121, 0.119, 0.122 and 0.120 A: 0.120 A; s = 0.00158, s/√5 = 0.000707, times
        t(4) = 2.132 is 0.0015, less than a minute's own 0.01/√5 · 1.645 = 0.00736; with 0.01 A alike
        √(0.00736² + 0.01645²) = 0.0180 A."""
        crew = self.begun()
        self.listened(crew, 0.118, 0.121, 0.119, 0.122, 0.120)
        assert crew.sees.step == "back", "the bank is to be connected again before anything else"
        crew.says(BANK, "done")

        assert crew.found.value == pytest.approx(0.120, abs=1e-6)
        assert crew.found.half == pytest.approx(0.0180, abs=2e-4)

    @pytest.mark.parametrize(
        ("channel", "value"),
        [
            ("alternator current", 12.0),
            ("panels power", 38.0),
            ("shore ac voltage", 229.0),
            ("engine speed", 800.0),
            ("generator speed", 1500.0),
        ],
    )
    def test_it_does_not_begin_while_a_source_runs(self, channel: str, value: float) -> None:
        crew = Crew()
        crew.values[channel] = value
        crew.minute()
        with pytest.raises(CommandError, match="heard running: switch off every source first"):
            crew.says(BANK, "start", what="zero")

    @pytest.mark.parametrize("place", ["sailing", "motoring"])
    def test_it_does_not_begin_under_way(self, place: str) -> None:
        crew = Crew()
        crew.mode = Mode(place, "awake")
        crew.minute()
        with pytest.raises(CommandError, match="under way"):
            crew.says(BANK, "start", what="zero")

    def test_it_does_not_listen_when_a_source_was_begun_since(self) -> None:
        crew = self.begun()
        crew.values["engine speed"] = 850.0
        crew.minute()
        with pytest.raises(CommandError, match="engine is heard running"):
            crew.says(BANK, "done")

    def test_a_source_that_begins_ends_it_and_the_bank_is_connected_again_first(self) -> None:
        crew = self.begun()
        self.listened(crew, 0.12, 0.12)
        crew.values["panels power"] = 40.0
        crew.look()
        assert crew.sees.step == "back"
        assert crew.sees.say.id == "calibration zero: back"
        crew.says(BANK, "done")

        assert (crew.sees.say.id, crew.sees.done) == ("calibration over: source runs", True)

    @pytest.mark.parametrize(
        ("amps", "why"),
        [((0.12, 0.12, 0.12, 0.12, 0.30), "not steady"), ((-2.1, -2.1, -2.1, -2.1, -2.1), "too large")],
    )
    def test_what_still_flows_is_no_zero(self, amps: tuple[float, ...], why: str) -> None:
        """A sensor may be off by four times 0.15 A (15 µV at a 500 A, 50 mV shunt; common practice)."""
        crew = self.begun()
        self.listened(crew, *amps)
        crew.says(BANK, "done")

        assert crew.sees.say.id == f"calibration over: {why}"
        assert crew.sees.found is None

    def test_a_sensor_that_dies_with_its_bank_is_told(self) -> None:
        crew = self.begun()
        self.listened(crew, 0.12)
        del crew.values[f"{BANK} current"]
        crew.minute()

        assert crew.sees.step == "back"

    def test_stopping_asks_to_connect_the_bank_again(self) -> None:
        crew = self.begun()
        self.listened(crew, 0.12)
        crew.says(BANK, "stop")
        assert crew.sees.step == "back"
        with pytest.raises(CommandError, match="connected again"):
            crew.says(BANK, "stop")
        crew.says(BANK, "done")

        assert crew.sees.done


class TestPouring:
    def poured(self, crew: Crew, litres: float, reading: float) -> None:
        crew.says(TANK, "litres", litres=litres)
        crew.values[f"{TANK} level"] = reading
        for _ in range(4):
            crew.minute()

    def begun(self) -> Crew:
        crew = Crew()
        crew.says(TANK, "start", what="sounding")
        self.poured(crew, 15.0, 8.0)
        return crew

    def test_known_litres_make_a_table(self) -> None:
        crew = self.begun()
        for litres, reading in ((25.0, 21.0), (50.0, 40.0), (50.0, 60.5)):
            self.poured(crew, litres, reading)
        crew.says(TANK, "enough")

        assert [p for p in crew.found.table if 8.0 <= p[0] <= 60.5] == [
            (8.0, 15.0), (21.0, 40.0), (40.0, 90.0), (60.5, 140.0),
        ]  # fmt: skip
        assert crew.found.covers == (8.0, 60.5)
        assert rises(crew.found.table) or all(
            a[0] < b[0] and a[1] <= b[1] for a, b in zip(crew.found.table, crew.found.table[1:], strict=False)
        )

    def test_a_reading_counts_when_it_is_calm(self) -> None:
        crew = Crew()
        crew.says(TANK, "start", what="sounding")
        crew.says(TANK, "litres", litres=15.0)
        for swing in ([5, 12, 4, 13, 6, 11], [7, 9, 7, 10, 6, 9]):
            crew.minute(level=swing)
            assert crew.between == "calibration note: swings"
        for _ in range(3):
            assert crew.sees.step == "settle"
            crew.minute(level=[8.0, 8.1, 8.0, 8.1, 8.0, 8.0])

        assert crew.sees.step == "pour"

    def test_it_waits_until_the_boat_is_upright(self) -> None:
        crew = self.begun()
        crew.values["attitude heel"] = 6.0
        self.poured(crew, 25.0, 21.0)
        assert crew.between == "calibration note: heels"
        crew.values["attitude heel"] = 0.5
        for _ in range(3):
            crew.minute()

        assert len(crew.sees.noted) == 2

    def test_a_reading_that_does_not_rise_is_not_noted_and_its_litres_are_not_lost(self) -> None:
        crew = self.begun()
        self.poured(crew, 10.0, 8.1)
        assert crew.between == "calibration note: no rise"
        self.poured(crew, 15.0, 21.0)

        assert [(r.facts["reading"], r.facts["litres"]) for r in crew.sees.noted] == [
            (8.0, 15.0),
            (21.0, 40.0),
        ]

    def test_a_pump_that_runs_ends_it(self) -> None:
        crew = self.begun()
        self.poured(crew, 25.0, 21.0)
        crew.ran(10.0)

        assert crew.sees.say.id == "calibration over: drawn"

    def test_what_was_noted_before_a_pump_ran_stands(self) -> None:
        crew = self.begun()
        self.poured(crew, 25.0, 21.0)
        self.poured(crew, 25.0, 33.0)
        crew.ran(10.0)

        assert crew.found.count == 3

    def test_more_than_the_tank_can_hold_is_refused(self) -> None:
        """The sample's midship tank holds 240 L; a tenth more is the most a label is out by."""
        crew = self.begun()
        with pytest.raises(CommandError, match="up to"):
            crew.says(
                TANK, "litres", litres=1.1 * next(t for t in settings().tanks if t.name == TANK).capacity_L
            )

    def test_beyond_what_was_measured_the_earlier_table_meets_it(self) -> None:
        """A straight tank of 100 L; measured 30 L at 20 % and 70 L at 80 %: at the bottom 30 - 20 = 10 L, at
        the top 70 + 20 = 90 L."""
        table = completed([(20.0, 30.0), (80.0, 70.0)], [(0.0, 0.0), (100.0, 100.0)], 100.0)

        assert table == [(0.0, 10.0), (20.0, 30.0), (80.0, 70.0), (100.0, 90.0)]

    def test_it_never_falls_below_nothing_nor_rises_over_the_capacity(self) -> None:
        table = completed([(20.0, 5.0), (80.0, 95.0)], [(0.0, 0.0), (100.0, 100.0)], 100.0)

        assert table == [(0.0, 0.0), (20.0, 5.0), (80.0, 95.0), (100.0, 100.0)]


class TestOneAtATime:
    def test_a_second_is_refused(self) -> None:
        crew = Crew()
        crew.says(PUMP, "start", what="flow")
        with pytest.raises(CommandError, match="under way: stop it first"):
            crew.says(TANK, "start", what="sounding")

    @pytest.mark.parametrize(("what", "subject"), [("flow", TANK), ("zero", "navigation"), ("tea", PUMP)])
    def test_what_cannot_be_measured_is_told(self, what: str, subject: str) -> None:
        with pytest.raises(CommandError, match="there is no calibration"):
            Crew().says(subject, "start", what=what)

    def test_an_answer_that_was_not_asked_for_is_refused(self) -> None:
        crew = Crew()
        crew.says(PUMP, "start", what="flow")
        with pytest.raises(CommandError, match="waits for one of: stop"):
            crew.says(PUMP, "take")

    def test_a_restart_ends_it_and_says_so(self) -> None:
        crew = Crew()
        crew.says(BANK, "start", what="zero")
        after = Crew()
        after.watch.restore(crew.watch.state())

        assert after.sees.done
        assert after.sees.say.id == "calibration over: zero interrupted"
        after.says(BANK, "stop")
        assert after.watch.wizard(Now(0.0, {}, ANCHORED, {})) is None
        assert after.watch.state() == {}

    def test_what_nobody_goes_on_with_ends_by_itself(self) -> None:
        crew = Crew()
        crew.says(PUMP, "start", what="flow")
        for _ in range(12 * 60 + 1):
            crew.minute()

        assert crew.watch.wizard(Now(crew.at_s, {}, ANCHORED, {})) is None

    def test_an_isolated_bank_is_never_forgotten(self) -> None:
        crew = Crew()
        crew.says(BANK, "start", what="zero")
        crew.says(BANK, "done")
        for _ in range(24 * 60):
            crew.minute()

        assert crew.sees.step == "back"
