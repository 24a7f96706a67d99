"""The parts of the plumbing's watch, each against arithmetic or a library that is not ours."""

from math import log, radians, tan
from random import Random
from statistics import NormalDist

import numpy as np
import pytest

from monitor.estimation.plumbing_at_once import AtOnce, Clause
from monitor.estimation.plumbing_balance import Balance, Excess
from monitor.estimation.plumbing_habits import FREE, GUARDED, STEP, Habits, Lengths, Line, group
from monitor.estimation.plumbing_refills import Refills, refill_in_draw_s
from monitor.estimation.plumbing_told import Told, finding
from monitor.estimation.plumbing_verdicts import HEALTHY, RELIEF, VERDICTS, chances
from monitor.estimation.watcher import Look
from monitor.records import Mode, Reading, Severity
from monitor.settings import Accumulator, Pump, Tank

HOUR = 3600.0
PUMP = Pump(
    name="pump",
    flow_L_per_min=10.0,
    accumulator=Accumulator(volume_L=1.0, precharge_bar=1.2, cut_in_bar=1.4, cut_out_bar=2.8),
)


# ---- weighing


def test_without_signs_the_priors_stand() -> None:
    total = sum(fault.prior for fault in VERDICTS.values())

    assert chances({}) == pytest.approx({name: fault.prior / total for name, fault in VERDICTS.items()})


def test_signs_are_weighed_by_bayes() -> None:
    """P(A|s)/P(B|s) = P(A)/P(B) * P(s|A)/P(s|B): Bayes' theorem in its odds form."""
    found = chances({"refills": "leak", "stream": None}, returned=log(3.0))

    def odds(a: str, b: str) -> float:
        p = {v: VERDICTS[v].shows.get(("refills", "leak"), HEALTHY["refills", "leak"]) for v in (a, b)}
        return VERDICTS[a].prior * p[a] / (VERDICTS[b].prior * p[b])

    pairs = ("leak downstream", "tight"), ("check valve leaks back", "leak downstream")
    expected = odds(*pairs[0]), 3.0 * odds(*pairs[1])
    assert [found[a] / found[b] for a, b in pairs] == pytest.approx(expected)
    assert sum(found.values()) == pytest.approx(1.0)


def test_every_sign_of_a_fault_is_a_sign_of_the_healthy() -> None:
    assert {what for fault in VERDICTS.values() for what in fault.shows} <= set(HEALTHY)
    for fault in VERDICTS.values():
        assert all(0 < p <= 1 for p in fault.shows.values())


# ---- the tank's balance


@pytest.mark.parametrize(
    ("fallen_L", "lone_L", "spread_L"), [(1.0, 6.0, 1.5), (7.2, 6.0, 1.5), (4.0, 6.0, 2.0)]
)
def test_refills_that_ran_back_against_refills_that_are_gone(
    fallen_L: float, lone_L: float, spread_L: float
) -> None:
    """The ratio of two normal densities (Python's statistics)."""
    excess = Excess(8.0, fallen_L, 7.0, lone_L, spread_L)

    back = NormalDist(7.0 - lone_L, spread_L).pdf(fallen_L)
    gone = NormalDist(7.0, spread_L).pdf(fallen_L)
    assert excess.returned() == pytest.approx(log(back / gone))


def days(balance: Balance, hours: int, lost_L_per_h: float, used_L_per_h: float, tank_L: float) -> float:
    """So many hours of a tank that loses and is used, a run every two hours; what is left."""
    for n in range(hours * 60):
        at_s = 60.0 * (n + 1)
        tank_L -= (lost_L_per_h + used_L_per_h) / 60
        if n % 120 == 60:
            balance.ran(at_s, used_L_per_h * 2 / 10.0 * 60)
        balance.minute(at_s, tank_L, running=False)
    return tank_L


def test_a_level_that_was_held_for_hours_is_not_believed_at_once() -> None:
    """Ten hours heeled, 26 L pumped in them; for two minutes the sender still says what it said before. Those
    26 L are no loss before the pump, when she comes out of the next heel eight hours later."""
    balance = Balance(400.0, 10.0)
    for minute in range(60):
        balance.minute(60.0 * minute, 380.0, False, 0.0)
    balance.ran(7200.0, 156.0)
    for minute in range(60, 660):
        balance.minute(60.0 * minute, None, False, 12.0)
    for minute in range(660, 1140):
        balance.minute(60.0 * minute, 380.0 if minute < 662 else 354.0, False, 0.0)
    for minute in range(1140, 1200):
        balance.minute(60.0 * minute, None if minute < 1170 else 354.0, False, 12.0 if minute < 1170 else 0.0)

    assert balance.falls_alone() is None


def test_a_tank_that_falls_alone_leaks_before_the_pump() -> None:
    """1 L/h for a day is 24 L: 16 times the 1.5 L that two readings of 0.27 % of 400 L are apart by."""
    healthy, leaking = Balance(400.0, 10.0), Balance(400.0, 10.0)
    days(healthy, 25, 0.0, 2.0, 350.0)
    days(leaking, 25, 1.0, 2.0, 350.0)

    assert healthy.falls_alone() is None
    excess = leaking.falls_alone()
    assert excess is not None
    assert excess.litres / excess.hours == pytest.approx(1.0, rel=0.1)


def sailed(heels: bool, told: bool, moving: bool) -> Balance:
    """Six hours on one tack and six on the other, heeled four degrees; about the tack nothing is believed. A
    sender 12 cm off the middle of a tank 55 cm deep reads 400 x 12 / 55 tan 4 = 6.1 L more, then as much
    less."""
    balance, lean_L = Balance(400.0, 10.0), 400 * 12 / 55 * tan(radians(4))
    for n in range(12 * 60):
        tack = 1 if n < 6 * 60 else -1
        level_L = None if 0 <= n - 6 * 60 < 30 else 300.0 + tack * lean_L
        heel_deg = 4.0 * tack * heels if told else None
        balance.minute(60.0 * (n + 1), level_L, False, heel_deg, moving)
    return balance


def test_a_sender_that_leans_is_no_leak() -> None:
    assert sailed(heels=True, told=True, moving=True).falls_alone() is None
    assert sailed(heels=True, told=False, moving=True).falls_alone() is None
    assert sailed(heels=False, told=True, moving=False).falls_alone() is not None


def test_a_boat_that_always_lists_is_told_of_her_leak() -> None:
    """1 L/h for half a day is 12 L: eight times the 1.5 L of two readings at the same heel."""
    balance = Balance(400.0, 10.0)
    for n in range(12 * 60 + 10):
        balance.minute(60.0 * (n + 1), 350.0 - n / 60, False, 3.0)

    assert balance.falls_alone() is not None


def test_under_way_a_torrent_is_still_told() -> None:
    """60 L in six hours is more than four times the 11 L that two leaning readings are apart by."""
    balance = Balance(400.0, 10.0)
    for n in range(6 * 60 + 10):
        balance.minute(60.0 * (n + 1), 350.0 - n / 6, running=False, moving=True)

    assert balance.falls_alone() is not None


def test_a_fill_is_no_leak_and_no_gift() -> None:
    balance = Balance(400.0, 10.0)
    left_L = days(balance, 12, 0.0, 2.0, 350.0)
    balance.minute(12 * HOUR + 60.0, left_L + 100.0, running=False)

    assert balance.falls_alone() is None
    assert balance.fallen_L(6.0) == pytest.approx(6 * 2.0, abs=2.1)  # The fill takes up to an hour with it.


def test_a_tank_that_was_filled_has_still_leaked() -> None:
    """What was lost before a fill is lost; no span reaches over it, and a day later it is forgotten."""
    balance = Balance(400.0, 10.0)
    left_L = days(balance, 12, 2.0, 2.0, 350.0)
    before = balance.falls_alone()
    balance.filled()
    balance.minute(12 * HOUR + 60.0, left_L + 100.0, running=False)

    assert before is not None
    assert balance.falls_alone() == before
    assert max(span.hours for span in balance.spans()) < 12.5
    for n in range(26 * 60):
        balance.minute((12 + n / 60) * HOUR + 120.0, left_L + 100.0, running=False)
    assert balance.falls_alone() is None


def test_the_flow_is_taught_by_the_tank_and_its_loss_is_told() -> None:
    """A strainer that halves the flow: the same pump-minutes move half of the water."""
    balance = Balance(300.0, 10.0)
    tank_L, at_s = 290.0, 0.0
    for n in range(12):
        moved_L = 12.0 if n < 8 else 6.0  # of 75 s, 8 L/min in health
        for _ in range(3):
            at_s += HOUR
            balance.ran(at_s - 1800.0, 30.0)
            tank_L -= moved_L / 3
            balance.minute(at_s, tank_L, running=False)
        if n == 7:
            assert balance.flow_share() == pytest.approx(1.0, abs=0.02)
            assert balance.L_per_s == pytest.approx(12.0 / 90.0, rel=0.02)
    assert balance.flow_share() == pytest.approx(0.5, abs=0.1)


# ---- habits


def test_the_limit_is_the_longest_of_a_thousand_and_a_fifth() -> None:
    """Against numpy's quantile of the same runs; bins are 12 % wide."""
    lengths, rng = Lengths(FREE), Random(5)
    runs = [rng.lognormvariate(3.5, 0.9) for _ in range(5000)]
    for seconds in runs:
        lengths.add(seconds)

    exact_s = 1.2 * float(np.quantile(runs, 0.999))
    assert exact_s / STEP <= lengths.limit_s() <= exact_s * STEP


def test_until_learnt_the_limits_are_those_of_common_practice() -> None:
    """5 minutes asleep, away and under way; 8 minutes else."""
    habits = Habits(PUMP, 480.0)

    assert habits.limit_s(FREE) == 480.0
    assert habits.limit_s(GUARDED) == 300.0


@pytest.mark.parametrize(
    ("mode", "expected"),
    [
        (Mode("at anchor", "awake"), FREE),
        (Mode("alongside", "awake"), FREE),
        (Mode("alongside", "away"), GUARDED),
        (Mode("at anchor", "asleep"), GUARDED),
        (Mode("sailing", "awake"), GUARDED),
        (Mode("motoring", "awake"), GUARDED),
    ],
)
def test_who_is_guarded(mode: Mode, expected: str) -> None:
    assert group(mode) == expected


def test_the_current_is_read_as_a_pressure() -> None:
    """A pump of 5 A at no pressure and 8 A at 2.8 bar; air by Boyle, pressed from 1.4 to 2.8 bar."""
    line = Line(PUMP)
    air = 1.01325
    for n in range(60):
        done = (n % 10 + 0.5) / 10
        litres_of_air = 1 / (1.4 + air) + done * (1 / (2.8 + air) - 1 / (1.4 + air))
        bar = 1 / litres_of_air - air
        line.refill(2.0, [(2.0 * done, 5.0 + 3.0 * bar / 2.8)])

    assert line.ends() == pytest.approx((5.0, 8.0), rel=0.01)


# ---- refills


def lone(refills: Refills, at_s: float, seconds: float = 2.0) -> None:
    refills.run(at_s - seconds, at_s, 2.0, 0.1)


def night(heated: range, starts: range, every_min: int) -> Refills:
    """From 16:00 on, minute by minute, people asleep from 23:00: heating and starts by the minute."""
    refills = Refills(0.5)
    for n in range(16 * 60):
        at_s = 60.0 * (n + 1)
        refills.heating(at_s, n in heated)
        if n in starts and (n - starts.start) % every_min == 0:
            lone(refills, at_s - 1.0)
        refills.minute(at_s, 60.0, n >= 7 * 60, 2.0, 0.1, 1 / 6)
    return refills


def test_refills_that_come_with_heating() -> None:
    """Heated 18:00 to 20:00; a start every ten minutes till 21:20 is 6.7 L: no heater shrinks so."""
    assert night(range(120, 240), range(130, 320), 10).with_heating() is True


def test_refills_that_come_all_night() -> None:
    assert night(range(120, 240), range(130, 900), 10).with_heating() is False


def week(an_evening: int, a_night: int, evenings: int = 7) -> Refills:
    """A week by minutes, a third of a litre a refill: heated from 18:00 to 20:00, so many refills an evening
    until 22:00, so many a night from 23:00 to 07:00."""
    refills = Refills(0.5)
    for n in range(7 * 24 * 60):
        day, at_min = divmod(n, 24 * 60)
        hot, asleep = 18 * 60 <= at_min < 20 * 60, at_min >= 23 * 60 or at_min < 7 * 60
        refills.heating(60.0 * (n + 1), hot)
        starts = [18 * 60 + 10 + 220 * k // max(1, an_evening) for k in range(an_evening)]
        starts += [10 + 400 * k // max(1, a_night) for k in range(a_night)]
        if at_min in starts and (asleep or day < evenings):
            lone(refills, 60.0 * (n + 1) - 1.0)
        refills.minute(60.0 * (n + 1), 60.0, asleep, 2.0, 0.1, 1 / 6)
    return refills


def test_a_few_refills_an_evening_show_in_a_week_of_evenings() -> None:
    """Four an evening of four hours against 1.2 by chance: 28 against 8.4. Poisson's log likelihood ratio in
    a day is 4 ln(4 / 1.2) - 2.8 = 2.0, in a week 28 ln(28 / 8.4) - 19.6 = 14.1: one proves nothing."""
    assert week(4, 0).with_heating() is True
    assert week(4, 0, evenings=1).with_heating() is None
    assert week(1, 0).with_heating() is None


def test_what_goes_on_all_night_has_nothing_to_do_with_heating() -> None:
    assert week(4, 8).with_heating() is not True


def test_a_valve_is_tight_again_after_hours_of_heating_that_drew_nothing() -> None:
    """Seven evenings, heated for two hours and two hours after: 28 hours. Then the caution ends."""
    assert week(0, 0).quiet_heated_h() == pytest.approx(28.0, abs=0.5)
    assert week(4, 0).quiet_heated_h() is None
    assert Refills(0.5).quiet_heated_h() is None
    for quiet_h, expected in ((28.0, (False, True)), (None, (None, None))):
        told = Told("pump", 0.0, 300.0, Clause(None), {}, chances({}), 0.0, {"quiet_heated_h": quiet_h})
        found = finding(told, RELIEF)
        assert (found.holds, found.clears) == expected


def test_a_refill_or_two_of_a_cooling_heater() -> None:
    """0.5 L of shrinkage and a third of a litre a refill: one or two. Five are more than it can be."""
    few, many = night(range(120, 240), range(500, 620), 100), night(range(120, 240), range(440, 800), 60)

    cooled = few.cooled_L(16 * HOUR)
    assert cooled is not None
    assert cooled[0] == 2
    assert cooled[1] == pytest.approx(2 / 3)
    assert many.cooled_L(16 * HOUR) is None


def test_runs_that_no_whole_accumulator_makes() -> None:
    healthy, flat = Refills(0.0), Refills(0.0)
    for n in range(30):
        lone(healthy, 600.0 * n, 2.0 + n % 3)
        lone(flat, 600.0 * n, 0.7 if n % 3 else 3.0)

    assert healthy.short() == (0, 24)
    assert flat.short() == (16, 24)


def test_a_tap_left_running_goes_on_steadily_and_a_cook_does_not() -> None:
    """60 L/h from a third of a litre: a start every 20 s, 2.2 s long, for 45 minutes."""
    tap, cook, rng = Refills(0.0), Refills(0.0), Random(3)
    for n in range(135):
        lone(tap, 20.0 * (n + 1), 2.2)
    at_s = 0.0
    while at_s < 45 * 60.0:
        at_s += rng.uniform(8.0, 150.0)
        lone(cook, at_s, rng.uniform(2.0, 7.0))

    found = tap.stream(2700.0, FREE)
    assert found is not None
    assert found[1] / 3600 * 20 == pytest.approx(2.2, rel=0.01)
    assert cook.stream(at_s, FREE) is None


def test_a_busy_sink_is_no_tap_however_alike_its_refills_are() -> None:
    """Half an hour of rinsing: four refills a draw, 6 s apart, a draw every 40 to 120 s. Most starts follow
    the one before by the same, but most of the time nothing flows."""
    sink, rng, at_s = Refills(0.0), Random(4), 0.0
    while at_s < 45 * 60.0:
        at_s += rng.uniform(40.0, 120.0)
        for _ in range(5):
            at_s += 6.0
            lone(sink, at_s)

    assert sink.stream(at_s, FREE) is None


# ---- clauses of a burst, status alone


@pytest.mark.parametrize(
    ("mode", "share"),
    [(Mode("at anchor", "awake"), 0.15), (Mode("sailing", "awake"), 0.08), (Mode("alongside", "away"), 0.08)],
)
def test_the_share_of_the_tanks_is_an_alarm_before_it_is_gone(mode: Mode, share: float) -> None:
    """400 L and 10 L/min (11 at an open end): the alarm comes between half of the share and all of it."""
    habits, balance = Habits(PUMP, 480.0), Balance(400.0, 10.0)
    pump = AtOnce(PUMP, [Tank(name="tank", capacity_L=400.0)], habits, balance)
    alarm_s = None
    for n in range(60):
        pump.look(Look(15.0 * n, 1, {}, mode, {"pump": 15.0 * n}, {"pump": None}))
        clause = pump.clause()
        if clause.fault and clause.severity is None and alarm_s is None:
            alarm_s = 15.0 * n
            assert (clause.fault, clause.by) == ("burst", "share")

    assert alarm_s is not None
    assert 0.5 * share < alarm_s * 11.0 / 60 / 400.0 <= share


def test_a_run_past_the_limit_is_a_warning_where_the_tanks_are_large() -> None:
    """1,000 L: 15 % are 13 minutes, the limit is 8."""
    habits, balance = Habits(PUMP, 480.0), Balance(1000.0, 10.0)
    pump = AtOnce(PUMP, [Tank(name="tank", capacity_L=1000.0)], habits, balance)
    pump.look(Look(600.0, 1, {}, Mode("at anchor", "awake"), {"pump": 485.0}, {"pump": None}))

    assert pump.clause() == ("burst", "length", Severity.WARNING)


def test_a_long_run_that_an_instrument_says_is_a_draw_is_told_by_its_share_alone() -> None:
    """A hose's gun wide open under way, 1.1 bar at the pump, cut-out 2.8: past the 5 minutes that no run
    lasts where nothing but the pump's status is known, until 8 % of 1,000 L may be gone."""
    told: dict[bool, list[tuple[float, str | None, str]]] = {}
    for heard in (True, False):
        habits, balance = Habits(PUMP, 480.0), Balance(1000.0, 10.0)
        pump = AtOnce(PUMP, [Tank(name="tank", capacity_L=1000.0)], habits, balance)
        told[heard] = []
        for n in range(1, 33):
            at_s = 15.0 * n
            readings = {"pump pressure": Reading(at_s - 0.3, 1.1, False)} if heard else {}
            pump.look(Look(at_s, 1, readings, Mode("sailing", "awake"), {"pump": at_s}, {"pump": None}))
            if pump.clause().fault:
                told[heard].append((at_s, *pump.clause()[:2]))

    assert told[True][0] == (390.0, "burst", "share")
    assert told[False][0] == (300.0, "burst", "length")


@pytest.mark.parametrize("tap_L_per_min", [0.5, 2.0, 5.0, 8.0])
def test_a_run_in_a_draw_tells_its_refill_whatever_the_tap_takes(tap_L_per_min: float) -> None:
    """V = 0.34 L, Q = 11 L/min: off = V / q, on = V / (Q - q), alone V / Q = 1.855 s (own arithmetic)."""
    off_s, on_s = 0.34 / tap_L_per_min * 60, 0.34 / (11 - tap_L_per_min) * 60

    assert refill_in_draw_s(on_s, off_s) == pytest.approx(0.34 / 11 * 60)
    assert refill_in_draw_s(0.34 / 11 * 60, None) == pytest.approx(0.34 / 11 * 60)
