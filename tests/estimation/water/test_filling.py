"""Filling mode: a hose into a tank, told live, and the word before it runs over."""

from random import Random

import pytest

from monitor.errors import CommandError
from monitor.estimation.filling import FillingWatch
from monitor.estimation.watcher import Look, Quick, Wished
from monitor.records import Command, Filling, Mode, Reading
from monitor.settings import Boat, Settings, Tank
from tests.estimation.water.tankage import Breadth, Shape, box, cylinder, vee

CAPACITY_L = 165.0
STILL = Mode("at anchor", "awake")
LOOK_S = 15.0
SHAPES: dict[Breadth, str] = {box: "straight", cylinder: "lying cylinder", vee: "wedge"}


class Hose:
    """A tank of a sliced shape, looked at every quarter of a minute."""

    def __init__(self, breadth: Breadth, litres: float, seed: int = 0, sd_pct: float = 0.2) -> None:
        fore = {"name": "fore", "capacity_L": CAPACITY_L, "shape": SHAPES[breadth]}
        tanks = [Tank.model_validate(fore), Tank(name="aft", capacity_L=260)]
        self.watch = FillingWatch(Settings(boat=Boat(name="Marram"), tanks=tanks))
        self.tank = Shape(CAPACITY_L, breadth)
        self.litres, self.sd_pct, self.rng = litres, sd_pct, Random(seed)
        self.at_s = 0.0
        self.mode = STILL

    def look(self, L_per_min: float = 0.0, reading: float | None = None) -> None:
        self.at_s += LOOK_S
        self.litres = min(CAPACITY_L, self.litres + L_per_min * LOOK_S / 60)
        told = self.tank.reading_pct(self.litres) if reading is None else reading
        readings = {
            "fore level": Reading(self.at_s, told + self.rng.gauss(0, self.sd_pct), False),
            "aft level": Reading(self.at_s, 50.0 + self.rng.gauss(0, self.sd_pct), False),
        }
        self.watch.look(Look(self.at_s, 1, readings, self.mode, {}, {}))

    def looks(self, n: int, L_per_min: float = 0.0) -> None:
        for _ in range(n):
            self.look(L_per_min)

    @property
    def filling(self) -> Filling | None:
        found = {f.tank: f for f in self.watch.fillings()}
        assert "aft" not in found
        return found.get("fore")

    @property
    def nearly_full(self) -> bool | None:
        (found,) = (f for f in self.watch.findings() if f.subject == "fore")
        return found.holds


def test_it_cannot_wait_for_the_minute_and_does_what_the_crew_asks() -> None:
    watch = Hose(box, 50).watch

    assert isinstance(watch, Quick)
    assert isinstance(watch, Wished)


@pytest.mark.parametrize("breadth", [box, cylinder, vee])
@pytest.mark.parametrize("L_per_min", [8.0, 20.0])
def test_the_rate_the_litres_and_the_time_are_those_of_the_hose(breadth: Breadth, L_per_min: float) -> None:
    """Known flow into a known shape: 10 % of the rate, 4 L and a quarter of the time, 20 hoses."""
    for seed in range(20):
        hose = Hose(breadth, 60, seed)
        hose.looks(20)
        while hose.litres < 110:
            hose.look(L_per_min)

        found = hose.filling
        assert found is not None
        assert found.litres == pytest.approx(hose.litres - 60, abs=4)
        assert found.L_per_min == pytest.approx(L_per_min, rel=0.10)
        assert found.full_in_s == pytest.approx((CAPACITY_L - hose.litres) / L_per_min * 60, rel=0.25)
        assert found.level_pct == pytest.approx(100 * hose.litres / CAPACITY_L, abs=2)


@pytest.mark.parametrize("L_per_min", [5.0, 12.0, 30.0])
def test_nearly_full_is_told_within_a_look_of_95_per_cent(L_per_min: float) -> None:
    """Not before 93 %, and at the latest at the first look from 95 % on, or one later for the noise."""
    for seed in range(20):
        hose = Hose(box, 100, seed)
        hose.looks(20)
        late = 0
        while not hose.nearly_full:
            late += hose.litres >= 0.95 * CAPACITY_L
            assert late <= 2
            hose.look(L_per_min)
        assert hose.litres > 0.935 * CAPACITY_L


def test_it_begins_by_itself_while_the_boat_lies_still_only() -> None:
    hose, sailing = Hose(box, 50), Hose(box, 50)
    sailing.mode = Mode("sailing", "awake")
    for each in (hose, sailing):
        each.looks(20)
        each.looks(16, 12.0)

    assert hose.filling is not None
    assert sailing.filling is None


def test_a_new_list_that_shifts_the_reading_is_no_filling() -> None:
    """One step of a few per cent, and noise on it: in 100 boats nothing begins."""
    for seed in range(100):
        hose = Hose(box, 80, seed)
        hose.looks(20)
        step = 3.0 + 5.0 * Random(seed).random()
        for _ in range(40):
            hose.look(reading=100 * 80 / CAPACITY_L + step)
            assert hose.filling is None


def test_a_day_of_calm_and_draws_begins_nothing() -> None:
    """Twenty days of noise of half a per cent and a tank that is drawn from."""
    for seed in range(4):
        hose = Hose(box, 160, seed, sd_pct=0.5)
        for _ in range(5 * 5760 // 4):
            hose.look(-0.1)
            assert hose.filling is None


def test_a_full_tank_that_stands_is_not_told() -> None:
    hose = Hose(box, 164)
    hose.looks(100)

    assert hose.nearly_full is False


def test_the_crew_begins_and_ends_it() -> None:
    hose = Hose(box, 50)
    hose.looks(5)

    hose.watch.wish(Command("filling", "fore", {"on": True}), hose.at_s, None)
    hose.looks(4, 10.0)
    assert hose.filling is not None

    hose.watch.wish(Command("filling", "fore", {"on": False}), hose.at_s, None)
    assert hose.filling is None


def test_it_ends_by_itself_when_nothing_rises_any_more() -> None:
    hose = Hose(box, 50)
    hose.looks(20)
    hose.looks(20, 12.0)
    assert hose.filling is not None

    hose.looks(4 * 12)

    assert hose.filling is None
    assert hose.nearly_full is False


def test_a_tank_that_is_not_heard_cannot_be_followed() -> None:
    hose = Hose(box, 50)

    with pytest.raises(CommandError, match="sender of fore is not heard"):
        hose.watch.wish(Command("filling", "fore", {"on": True}), 0.0, None)
    with pytest.raises(CommandError, match="no tank is called 'bow'"):
        hose.watch.wish(Command("filling", "bow", {"on": True}), 0.0, None)


def test_a_sender_that_falls_silent_leaves_it_unknown() -> None:
    hose = Hose(box, 50)
    hose.looks(5)
    hose.watch.wish(Command("filling", "fore", {"on": True}), hose.at_s, None)
    silent = {"fore level": Reading(hose.at_s, 60.0, True)}

    hose.watch.look(Look(hose.at_s + 300, 1, silent, STILL, {}, {}))

    assert hose.nearly_full is None


def test_before_the_first_look_nothing_is_known() -> None:
    assert Hose(box, 50).nearly_full is None


def test_it_survives_a_restart() -> None:
    hose, again = Hose(box, 50), Hose(box, 50)
    hose.looks(5)
    hose.watch.wish(Command("filling", "fore", {"on": True}), hose.at_s, None)
    hose.looks(8, 10.0)

    again.watch.restore(hose.watch.state())
    again.litres = hose.litres
    again.looks(8, 10.0)

    assert again.filling is not None
    assert again.filling.litres == pytest.approx(40, abs=2)
