"""What is usual aboard: lone refills by chance, and draws that the settings declare."""

from collections.abc import Callable
from random import Random

import pytest

from monitor.estimation.innocents import HELD_NIGHTS, DeclaredDraws, Innocents
from monitor.settings import Draw, Pump
from tests.estimation.water.household import DAY, HOUR, Habits, Plumbing
from tests.estimation.water.watching import Watch, pump_of

SHARE = 0.134
"""Of 0.34 L at 0.1 s: 0.08 + 0.1 s / 1.84 s."""


def live(innocents: Innocents, nights: int, refills: Callable[[], float]) -> None:
    """Nights of 8 h and days without a refill."""
    for _ in range(nights):
        innocents.quiet(True, 8.0)
        innocents.quiet(True, 0.0, refills())
        innocents.quiet(False, 4.0)


@pytest.mark.parametrize("a_night", [0.1, 0.2, 0.3])
def test_the_boats_own_nights_teach_how_many_are_usual(a_night: float) -> None:
    """Ninety nights of 8 h, Poisson: 9 to 27 refills, so a third of scatter and the guess's own weight."""
    rng, innocents = Random(3), Innocents()
    live(innocents, 90, lambda: float(rng.random() < a_night))

    assert innocents.per_h(SHARE, asleep=True) == pytest.approx(a_night / 8, rel=0.4)


def test_a_leak_that_was_there_from_the_start_is_not_learned_as_usual() -> None:
    """0.1 L/h of 0.34 L: 0.3 refills an hour; what is called usual stays far below."""
    innocents = Innocents()
    live(innocents, 30, lambda: 2.0)

    assert innocents.per_h(SHARE, asleep=True) < 0.06


def test_day_and_night_are_learned_apart() -> None:
    innocents = Innocents()
    before = innocents.per_h(SHARE, asleep=True)
    innocents.quiet(False, 0.0, 8.0)
    live(innocents, HELD_NIGHTS, lambda: 0.0)

    assert innocents.per_h(SHARE, asleep=True) == pytest.approx(before, rel=0.2)
    assert innocents.per_h(SHARE, asleep=False) > before


def test_a_leaks_first_nights_teach_nothing() -> None:
    """Or its own refills would make it look usual before it is found."""
    innocents = Innocents()
    live(innocents, 20, lambda: 0.0)
    before = innocents.per_h(SHARE, asleep=True)
    live(innocents, HELD_NIGHTS, lambda: 3.0)

    assert innocents.per_h(SHARE, asleep=True) <= before
    live(innocents, HELD_NIGHTS, lambda: 3.0)
    assert innocents.per_h(SHARE, asleep=True) > before


def test_what_was_learned_outlives_a_restart() -> None:
    innocents, other = Innocents(), Innocents()
    live(innocents, 10, lambda: 1.0)
    other.restore(innocents.state())
    for each in (innocents, other):
        live(each, 5, lambda: 2.0)

    assert other.per_h(SHARE, asleep=True) == pytest.approx(innocents.per_h(SHARE, asleep=True))


def test_a_small_declared_draw_takes_its_litres_over_its_hours() -> None:
    """By hand: 0.12 L every 1.5 h take 0.48 L in six hours."""
    pump = Pump(name="pump", draws=[Draw(name="ice", litres=0.12, every_h=1.5)])

    likely_L, unsure_L = DeclaredDraws(pump).taken_L(6 * HOUR, 0.34)

    assert likely_L == pytest.approx(0.48)
    assert 0 < unsure_L < 0.12


def test_a_flush_explains_a_run_of_its_litres_and_no_other() -> None:
    declared = DeclaredDraws(Pump(name="pump", draws=[Draw(name="flush", litres=5.0, every_h=24)]))

    assert declared.explain(5.2, 0.34)
    assert not declared.explain(0.34, 0.34)
    assert not declared.explain(12.0, 0.34)
    assert declared.taken_L(8 * HOUR, 0.34) == (0.0, 0.0)


@pytest.mark.parametrize(("litres", "every_h"), [(0.12, 1.5), (0.5, 4.0)])
def test_a_declared_ice_maker_is_no_leak_and_hides_none(litres: float, every_h: float) -> None:
    """The independent household, 40 days; then 0.2 L/h for three nights."""
    watch = Watch(12, Plumbing(ice_L=litres, ice_every_h=every_h), Habits(visits=1.0))
    for _ in range(39):
        watch.day()
    watch.house.leak, watch.house.leak_from_s = 0.2, 40 * DAY - 2 * HOUR
    for _ in range(4):
        watch.day()

    assert watch.suspected
    assert all(40 * DAY - 2 * HOUR < at_s < 43 * DAY for at_s in watch.suspected)


@pytest.mark.parametrize("promise", [0.7, 1.3])
def test_a_wrong_promised_drawdown_is_learned_and_does_no_harm(promise: float) -> None:
    """Settings that promise 30 % less or more than the independent household has; a leak of 0.3 L/h
    from the fifth evening on."""
    plumbing = Plumbing()
    watch = Watch(3, plumbing, Habits(visits=1.0), settings=pump_of(plumbing, promise))
    for _ in range(5):
        watch.day()
    watch.house.leak, watch.house.leak_from_s = 0.3, 6 * DAY - 2 * HOUR
    for _ in range(3):
        watch.day()

    assert watch.judge.refill.seconds == pytest.approx(60 * 0.337 / 11, rel=0.1)
    assert watch.suspected
    assert 6 * DAY - 2 * HOUR < watch.suspected[0] < 7 * DAY
    assert watch.rate is not None
    assert watch.rate[0] == pytest.approx(0.3, rel=0.15)
    assert all(bound is None or bound >= 0.3 for bound in watch.mornings[6:])
