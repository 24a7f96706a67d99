"""Senders that lie, valves that are turned, tanks without a sender: each said plainly, none a false leak."""

from random import Random

import pytest

from monitor.errors import CommandError
from monitor.estimation.tank_orders import obey
from monitor.estimation.tank_watch import TankWatch
from monitor.estimation.tanks import TankLevel
from monitor.estimation.tanks_in_use import mark_stuck
from monitor.estimation.watcher import Heard, WaterHeard
from monitor.records import Column, Command, Event, Finding, Mode, Reading
from monitor.settings import Boat, Feed, MqttSource, Pump, Settings, Tank
from monitor.words.say import say
from monitor.words.units import UNKNOWN, Dress
from tests.estimation.water.tankage import Shape, minute, noisy, vee

FORE_L, AFT_L = 165.0, 260.0
SENDER, SUMS = "tank sender wrong", "water does not add up"


def boat(*, senders: bool = True, aft: bool = True) -> Settings:
    def tank(name: str, capacity_L: float) -> Tank:
        feeds = [Feed(source="broker", topic=f"tanks/{name}", quantity="level")] if senders else []
        return Tank(name=name, capacity_L=capacity_L, unusable_L=5, feeds=feeds)

    tanks = [tank("fore", FORE_L), *([tank("aft", AFT_L)] if aft else [])]
    sources = [MqttSource(kind="mqtt", name="broker")]
    return Settings(boat=Boat(name="Marram"), sources=sources, tanks=tanks, pumps=[Pump(name="pump")])


class Life:
    """The desk's part and the watch over it, a minute at a time."""

    def __init__(self, settings: Settings) -> None:
        self.levels = {t.name: TankLevel(t) for t in settings.tanks}
        self.watch = TankWatch(settings)
        self.n = 0
        self.events: list[Event] = []

    def minute(self, columns: dict[str, Column], pumped_L: float = 0.0) -> None:
        """`columns` by tank."""
        start_s, told = self.n * 60.0, []
        open_ones = [level for level in self.levels.values() if level.condition != "isolated"]
        for level in open_ones if pumped_L else []:
            level.pumped(pumped_L, len(open_ones))
        for name, column in columns.items():
            told += self.levels[name].take(column)
        mark_stuck(list(self.levels.values()))
        end_s = start_s + 60
        found = [
            e for level in self.levels.values() for e in (*level.estimates(end_s), *level.further(end_s))
        ]
        water = WaterHeard(tuple(told), estimates={(e.name, e.subject): e for e in found})
        readings = {f"{name} level": Reading(end_s, c.values[-1], False) for name, c in columns.items()}
        named = {f"{name} level": c for name, c in columns.items()}
        calm = Mode("at anchor", "awake")
        self.watch.take(Heard(start_s, 1.79e9 + start_s, 1, named, readings, calm, {}, water=water))
        self.events += told
        self.n += 1

    def finding(self, rule: str, tank: str) -> Finding:
        (found,) = (f for f in self.watch.findings() if (f.rule, f.subject) == (rule, tank))
        said = say(found.reason, Dress())
        assert "{" not in said
        assert not found.holds or UNKNOWN not in said, said
        return found

    def level_L(self, tank: str) -> tuple[float | None, float | None, float | None, str]:
        (e,) = self.levels[tank].estimates(self.n * 60.0)
        return e.value, e.low, e.high, e.reason.id


def draws(rng: Random, minutes: int, litres_a_day: float) -> list[float]:
    """Litres of each minute: a few to a dozen litres at a time."""
    chance = litres_a_day / 5.0 / 1440
    return [rng.uniform(2, 8) if rng.random() < chance else 0.0 for _ in range(minutes)]


def test_before_the_first_minute_nothing_is_known() -> None:
    found = TankWatch(boat()).findings()

    assert {(f.rule, f.subject) for f in found} == {(r, t) for r in (SENDER, SUMS) for t in ("fore", "aft")}
    assert {(f.holds, f.clears) for f in found} == {(None, None)}


def test_a_week_of_an_honest_tank_says_nothing() -> None:
    """Three weeks: slosh, draws and fills, not one finding."""
    for seed in range(3):
        rng, life, left = Random(seed), Life(boat(aft=False)), 150.0
        for litres in draws(rng, 7 * 1440, 36):
            left = left - litres if left > 20 else 150.0
            life.minute({"fore": noisy(rng, life.n, 100 * left / FORE_L)}, litres)
            if life.n % 15 == 0:
                assert life.finding(SENDER, "fore").holds is not True, (seed, life.n)
                assert life.finding(SUMS, "fore").holds is not True, (seed, life.n)


@pytest.mark.parametrize("seed", range(10))
def test_a_reversed_sender_is_told_and_not_believed(seed: int) -> None:
    """It rises as the pump draws: after a few showers it is told, and its litres are not given out."""
    rng, life, left = Random(seed), Life(boat(aft=False)), 150.0
    for litres in draws(rng, 1440, 60):
        left -= litres
        life.minute({"fore": noisy(rng, life.n, 100 - 100 * left / FORE_L)}, litres)
        if life.finding(SENDER, "fore").holds:
            break

    assert life.finding(SENDER, "fore").reason.id == "alert: tank sender reversed"
    assert life.level_L("fore") == (None, None, None, "tank sender reversed")
    assert 150.0 - left < 0.5 * FORE_L
    assert life.events == []
    assert life.finding(SUMS, "fore").holds is not True


def test_a_reversed_sender_falls_while_it_is_filled() -> None:
    life = Life(boat(aft=False))
    for n in range(3):
        for k in range(60):
            life.minute({"fore": minute(life.n, *[80.0 - min(k, 20)] * 6)})
        order = Command("fill", "fore", {"litres": 33.0})
        obey(life.levels, order, life.n * 60.0)
        for _ in range(13 * 60):
            life.minute({"fore": minute(life.n, *[80.0] * 6)})
        if n == 0:
            assert life.finding(SENDER, "fore").holds is False

    assert life.finding(SENDER, "fore").reason.id == "alert: tank sender reversed"


def test_a_tank_with_a_reversed_sender_that_is_filled_to_the_brim_is_reckoned() -> None:
    life, left = Life(boat(aft=False)), 150.0
    while life.finding(SENDER, "fore").holds is not True:
        left -= 4.0
        for _ in range(15):
            life.minute({"fore": minute(life.n, *[100 - 100 * left / FORE_L] * 6)}, 0 if _ else 4.0)

    obey(life.levels, Command("fill", "fore", {"source": "quay"}), life.n * 60.0)
    life.minute({"fore": minute(life.n, *[2.0] * 6)}, 10.0)

    value, low, high, reason = life.level_L("fore")
    assert reason == "tank by the pump, sender reversed"
    assert value == pytest.approx(160 - 10)
    assert low is not None
    assert high is not None
    assert low < 149 < 151 < high


def test_a_reading_outside_its_table_is_told_after_ten_minutes() -> None:
    life = Life(boat(aft=False))
    for _ in range(9):
        life.minute({"fore": minute(life.n, *[104.0] * 6)})
    assert life.finding(SENDER, "fore").holds is False

    life.minute({"fore": minute(life.n, *[104.0] * 6)})
    found = life.finding(SENDER, "fore")

    assert found.holds
    assert "104" in say(found.reason, Dress())


def test_a_noisy_sender_is_told_where_the_other_shows_that_the_boat_lies_still() -> None:
    rng, life = Random(4), Life(boat())
    for n in range(61):
        wild = minute(life.n, *[rng.uniform(20, 90) for _ in range(24)])
        life.minute({"fore": wild, "aft": noisy(rng, life.n, 70)})
        assert life.finding(SENDER, "fore").holds is (True if n >= 59 else None)

    assert life.finding(SENDER, "fore").reason.id == "alert: tank sender noisy"
    assert life.finding(SENDER, "aft").holds is False


def test_a_swell_that_moves_every_tank_is_no_noisy_sender() -> None:
    rng, life = Random(5), Life(boat())
    for _ in range(12 * 60):
        swell = {t: minute(life.n, *[60 + rng.gauss(0, 4) for _ in range(24)]) for t in ("fore", "aft")}
        life.minute(swell)

    assert life.finding(SENDER, "fore").holds is None


def test_an_absent_sender_stands_under_the_instruments_silence() -> None:
    life = Life(boat())
    for _ in range(16):
        life.minute({"aft": minute(life.n, *[70.0] * 6)})

    found = life.finding(SENDER, "fore")
    assert found.reason.id == "alert: tank sender absent"
    assert found.under == (("instrument silent", "fore"), ("source silent", "broker"))


def test_a_stuck_sender_is_told_by_its_tank() -> None:
    life = Life(boat(aft=False))
    for _ in range(20):
        life.minute({"fore": minute(life.n, *[60.0] * 6)}, 1.0)

    assert life.finding(SENDER, "fore").reason.id == "alert: tank sender stuck"


@pytest.mark.parametrize("minutes", [1, 2, 4, 8])
def test_a_long_run_that_tells_its_litres_at_its_end_is_no_stuck_sender(minutes: int) -> None:
    """A shower of 10 L/min: the reading falls minute by minute, the litres come when the pump stops."""
    life, left = Life(boat(aft=False)), 160.0
    for _ in range(14):
        for _ in range(20):
            life.minute({"fore": minute(life.n, *[100 * left / FORE_L] * 6)})
        for _ in range(minutes):
            left -= 10.0 / (1 if minutes < 4 else 4)
            life.minute({"fore": minute(life.n, *[100 * left / FORE_L] * 6)})
        life.minute(
            {"fore": minute(life.n, *[100 * left / FORE_L] * 6)}, minutes * 10.0 / (1 if minutes < 4 else 4)
        )
        assert life.finding(SENDER, "fore").holds is not True
        if left < 40:
            break


@pytest.mark.parametrize("step_pct", [1.0, 5.0, 10.0])
def test_a_coarse_sender_is_not_stuck(step_pct: float) -> None:
    """A week of two tanks, drawn from in turn, whose senders know steps only."""
    rng, life, left = Random(7), Life(boat()), {"fore": 150.0, "aft": 240.0}
    for litres in draws(rng, 7 * 1440, 36):
        left["fore" if left["fore"] > 25 else "aft"] -= litres
        life.minute(
            {
                t: minute(
                    life.n,
                    *[round((100 * left[t] / c + rng.gauss(0, 0.3)) / step_pct) * step_pct for _ in "123456"],
                )
                for t, c in (("fore", FORE_L), ("aft", AFT_L))
            },
            litres,
        )
        if life.n % 10 == 0:
            assert all(life.finding(SENDER, t).holds is not True for t in left), life.n


# ---- valves


def test_a_valve_changed_over_is_told_and_is_no_leak() -> None:
    """Six days from the fore tank, then from the aft one: nobody said so."""
    rng, life, left = Random(6), Life(boat()), {"fore": 150.0, "aft": 250.0}
    for day, tank in enumerate(["fore"] * 2 + ["aft"] * 4):
        for litres in draws(rng, 1440, 36):
            left[tank] -= litres
            columns = {
                t: noisy(rng, life.n, 100 * left[t] / c) for t, c in (("fore", FORE_L), ("aft", AFT_L))
            }
            life.minute(columns, litres)
            for name in left:
                assert life.finding(SENDER, name).holds is not True, (day, life.n)
                assert life.finding(SUMS, name).holds is not True, (day, life.n)

    shares = {
        e.subject: e for level in life.levels.values() for e in level.further(0) if e.name == "tank_share"
    }
    assert shares["fore"].reason.id == "tank: not drawn from"
    assert shares["aft"].reason.id == "tank: in use"
    for name in left:
        value = life.level_L(name)[0]
        assert value == pytest.approx(left[name] - 5, abs=3)


def test_a_shut_tank_has_no_part_in_what_is_pumped() -> None:
    life = Life(boat())
    both = {"fore": 80.0, "aft": 80.0}
    for _ in range(3):
        life.minute({t: minute(life.n, *[r] * 6) for t, r in both.items()})

    obey(life.levels, Command("tank", "fore", {"state": "isolated"}), life.n * 60.0)
    life.minute({}, 20.0)
    for _ in range(6):
        life.minute({})

    assert life.level_L("fore")[0] == pytest.approx(0.8 * FORE_L - 5)
    assert life.level_L("aft")[0] == pytest.approx(0.8 * AFT_L - 5 - 20)


def test_a_shut_tank_that_falls_is_told_and_clears_when_it_is_opened() -> None:
    life = Life(boat(aft=False))
    life.minute({"fore": minute(life.n, *[80.0] * 6)})
    obey(life.levels, Command("tank", "fore", {"state": "isolated"}), life.n * 60.0)
    for k in range(120):
        life.minute({"fore": minute(life.n, *[80.0 - k / 20] * 6)})

    found = life.finding(SUMS, "fore")
    assert found.reason.id == "alert: shut tank falls"
    assert found.reason.facts["lost_L"] == pytest.approx(0.06 * FORE_L, abs=2)

    obey(life.levels, Command("tank", "fore", {"state": "in use"}), life.n * 60.0)
    life.minute({"fore": minute(life.n, *[74.0] * 6)})
    assert life.finding(SUMS, "fore").clears


def test_a_state_survives_a_restart() -> None:
    level = TankLevel(boat().tanks[0])
    obey({"fore": level}, Command("tank", "fore", {"state": "doubtful"}), 0.0)

    again = TankLevel(boat().tanks[0])
    again.restore(level.state())

    assert again.condition == "doubtful"


def test_settings_that_were_changed_go_before_what_was_said() -> None:
    level, tank = TankLevel(boat().tanks[0]), boat().tanks[0].model_copy(update={"doubtful": True})

    again = TankLevel(tank)
    again.restore(level.state())

    assert again.condition == "doubtful"


@pytest.mark.parametrize(
    ("facts", "told"), [({"state": "open"}, "in use, isolated, doubtful"), ({}, "say the tank's")]
)
def test_a_state_that_is_none_is_refused(facts: dict[str, str], told: str) -> None:
    level = TankLevel(boat().tanks[0])

    with pytest.raises(CommandError, match=told):
        obey({"fore": level}, Command("tank", "fore", facts), 0.0)


# ---- sums


def test_a_flow_set_wrong_is_told_as_sums_and_not_as_a_leak() -> None:
    """The pump moves 1.5 L for each that it is set to."""
    rng, life, left = Random(8), Life(boat(aft=False)), 160.0
    for litres in draws(rng, 10 * 1440, 30):
        if left < 15:
            left = 160.0
        left -= 1.5 * litres
        life.minute({"fore": noisy(rng, life.n, 100 * left / FORE_L)}, litres)

    found = life.finding(SUMS, "fore")
    assert found.holds
    assert found.reason.id == "alert: sums, falls more"
    assert found.under == (("leak above the pump", "pump"),)


def test_litres_said_that_the_tank_did_not_rise_by_are_told_for_a_day() -> None:
    life = Life(boat(aft=False))
    for reading in [40.0] * 20 + [40.0 + 2.0 * n for n in range(16)] + [70.0] * 20:
        life.minute({"fore": minute(life.n, *[reading] * 6)})
    event = obey(life.levels, Command("fill", "fore", {"litres": 120.0}), life.n * 60.0)
    assert event is not None
    heard = Heard(life.n * 60.0, None, 1, {}, {}, Mode("at anchor", "awake"), {}, water=WaterHeard((event,)))

    life.watch.take(heard)

    found = life.finding(SUMS, "fore")
    assert found.reason.id == "alert: sums, said"
    assert found.reason.facts["rose_L"] == pytest.approx(0.3 * FORE_L, abs=3)


# ---- no sender


def test_a_tank_without_a_sender_is_unknown_until_the_crew_says_it_is_full() -> None:
    life = Life(boat(senders=False, aft=False))
    life.minute({}, 30.0)
    assert life.level_L("fore")[0] is None

    obey(life.levels, Command("fill", "fore", {"source": "quay", "treated": False}), life.n * 60.0)

    value, low, high, reason = life.level_L("fore")
    assert (value, high, reason) == (160, 160, "tank by the pump")
    assert low == pytest.approx(160, abs=6)


def test_the_band_of_a_tank_without_a_sender_widens_by_a_tenth_of_what_is_pumped() -> None:
    """By hand: 100 of 160 L pumped leave 60, and a tenth of 100 L either way on top of the brim's own."""
    life = Life(boat(senders=False, aft=False))
    obey(life.levels, Command("fill", "fore", {}), 0.0)
    brim_L = 160 - (life.level_L("fore")[1] or 0)
    for _ in range(50):
        life.minute({}, 2.0)

    value, low, high, _ = life.level_L("fore")
    assert value == pytest.approx(60)
    assert low == pytest.approx(60 - 10 - brim_L)
    assert high == pytest.approx(60 + 10 + brim_L)


def test_litres_poured_in_and_a_dipped_level_count_where_there_is_no_sender() -> None:
    life = Life(boat(senders=False, aft=False))
    obey(life.levels, Command("tank", "fore", {"litres": 0}), 0.0)
    assert life.level_L("fore")[0] == 0

    obey(life.levels, Command("fill", "fore", {"litres": 40}), 0.0)
    life.minute({}, 10.0)

    assert life.level_L("fore")[0] == pytest.approx(30)


def test_of_two_tanks_without_senders_any_may_have_given_it_all() -> None:
    life = Life(boat(senders=False))
    for name in ("fore", "aft"):
        obey(life.levels, Command("fill", name, {}), 0.0)
    life.minute({}, 60.0)

    value, low, _, _ = life.level_L("fore")
    assert value == pytest.approx(160 - 30)
    assert low is not None
    assert low <= 160 - 60


def test_a_tank_without_a_sender_survives_a_restart() -> None:
    life, again = Life(boat(senders=False, aft=False)), Life(boat(senders=False, aft=False))
    obey(life.levels, Command("fill", "fore", {}), 0.0)
    life.minute({}, 25.0)

    again.levels["fore"].restore(life.levels["fore"].state())

    assert again.level_L("fore")[:3] == life.level_L("fore")[:3]


# ---- a table of its own


def test_a_taught_table_counts_from_a_fill_on_and_survives_a_restart() -> None:
    """A V taken for a box. Between fills the litres never jump: that would look like a leak."""
    rng, life, shape = Random(9), Life(boat(aft=False)), Shape(FORE_L, vee)
    left, before, jumps, tankfuls = 160.0, None, 0, 0
    while tankfuls < 4:
        for k in range(20):
            life.minute({"fore": noisy(rng, life.n, shape.reading_pct(left))}, 7.0 if k == 0 else 0.0)
            now = life.level_L("fore")[0]
            assert now is not None
            if before is not None and now > before + 5:
                jumps += 1
            before = now
        left -= 7.0
        if left < 20:
            while left < 160:
                left += 8.0
                life.minute({"fore": noisy(rng, life.n, shape.reading_pct(left))})
            for _ in range(40):
                life.minute({"fore": noisy(rng, life.n, shape.reading_pct(left))})
            obey(life.levels, Command("fill", "fore", {"litres": 141.0}), life.n * 60.0)
            tankfuls, before = tankfuls + 1, None

    again = Life(boat(aft=False))
    again.levels["fore"].restore(life.levels["fore"].state())

    assert jumps == 0
    for each in (life, again):
        for _ in range(3):
            each.minute({"fore": minute(each.n, *[60.0] * 6)})
    # Six tenths deep a V holds 0.36 of 165 L, a box 0.6: 59 and 99 L.
    for each in (life, again):
        value = each.level_L("fore")[0]
        assert value == pytest.approx(0.36 * FORE_L - 5, abs=8)
