"""How old the water is: parcels that are drawn from alike and mixed by volume."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.estimation.parcels import Parcel, Parcels, drawn, mean_age_s, poured, total_L
from monitor.estimation.watcher import Heard, WaterHeard
from monitor.estimation.water_age import WaterAgeWatch
from monitor.records import Estimate, Event, EventKind, Finding, Mode, Reason, WaterAge
from monitor.settings import Boat, Settings, Tank
from monitor.words.say import say
from monitor.words.units import UNKNOWN, Dress

DAY = 86_400.0
BEGAN = 1_790_000_000.0
SETTINGS = Settings(boat=Boat(name="Marram"), tanks=[Tank(name="fore", capacity_L=200, unusable_L=10)])


class Days:
    """A tank's litres, day by day; a minute is taken at each change."""

    def __init__(self, watch: WaterAgeWatch | None = None) -> None:
        self.watch = watch or WaterAgeWatch(SETTINGS)

    def at(self, day: float, litres: float, *events: Event, clock: bool = True, table: object = None) -> None:
        drift = Estimate("tank_table_off_L", "fore", 0.0, 0.0, 0.0, 0.0, Reason("", {"table": table}))
        left = Estimate("tank_L", "fore", 0.0, litres - 10, litres - 15, litres - 5, Reason("tank level"))
        water = WaterHeard(events, estimates={("tank_L", "fore"): left, ("tank_table_off_L", "fore"): drift})
        utc_s = BEGAN + day * DAY - 60 if clock else None
        mode = Mode("at anchor", "awake")
        self.watch.take(Heard(day * DAY - 60, utc_s, 1, {}, {}, mode, {}, water=water))

    def filled(self, day: float, litres: float, **facts: object) -> None:
        """To so much, told by the crew at once."""
        event = Event(EventKind.FILL, "fore", 1, day * DAY - 600, day * DAY, {"confirmed": True, **facts})
        self.at(day, litres, event)

    @property
    def age(self) -> WaterAge:
        (age,) = self.watch.ages()
        return age

    @property
    def old(self) -> Finding:
        (found,) = self.watch.findings()
        said = say(found.reason, Dress())
        assert not found.holds or UNKNOWN not in said, said
        return found


def lived_in() -> Days:
    """Emptied and filled once, so that the day is known of all that is in it."""
    days = Days()
    days.at(0, 100)
    days.at(1, 2)
    days.filled(1.01, 200, source="quay", treated=False)
    return days


def test_water_of_before_the_watch_is_of_no_known_age() -> None:
    days = Days()
    days.at(0, 150)
    days.at(5, 120)

    assert days.age == WaterAge("fore", None, None, "", None)


def test_it_ages_by_the_day() -> None:
    days = lived_in()
    days.at(6.01, 120)

    assert days.age.mean_days == pytest.approx(5, abs=0.1)
    assert days.age.oldest_days == pytest.approx(5, abs=0.1)
    assert (days.age.source, days.age.treated) == ("quay", False)


def test_a_fill_mixes_by_volume() -> None:
    """By hand: 50 L ten days old and 150 L of today: 2.5 days on the mean, ten the oldest."""
    days = lived_in()
    days.at(11.01, 50)
    days.filled(11.011, 200, source="rain", treated=True)

    assert days.age.mean_days == pytest.approx(2.5, abs=0.1)
    assert days.age.oldest_days == pytest.approx(10, abs=0.1)
    assert days.age.source == "rain"
    assert days.age.treated is False, "a quarter of it never was"


def test_what_is_drawn_is_of_the_mix() -> None:
    """By hand: drawing changes no mean."""
    days = lived_in()
    days.at(11.01, 50)
    days.filled(11.011, 200)
    days.at(11.02, 20)

    assert days.age.mean_days == pytest.approx(2.5, abs=0.1)


def test_the_oldest_is_forgotten_when_it_is_a_trace() -> None:
    """By hand: halved and filled up five times, 1/32 is left of the first water and of the second (3 %),
    1/16 of the third, which is three days old."""
    days = lived_in()
    for n in range(1, 6):
        days.at(1.01 + n, 100)
        days.filled(1.011 + n, 200)

    assert days.age.oldest_days == pytest.approx(3, abs=0.1)


def test_untreated_water_grows_old_and_treated_water_does_not() -> None:
    untreated, treated = lived_in(), lived_in()
    treated.at(1.5, 2)
    treated.filled(1.51, 200, source="quay", treated=True)
    for days in (untreated, treated):
        days.at(14.9, 150)
        assert days.old.holds is False
        days.at(16.6, 150)

    assert untreated.old.holds is True
    assert untreated.old.reason.id == "alert: water old"
    assert (treated.old.holds, treated.old.clears) == (False, True)


def test_water_of_unknown_age_is_old_when_it_was_watched_that_long() -> None:
    days = Days()
    days.at(0, 150)
    days.at(13, 140)
    assert (days.old.holds, days.old.clears) == (False, False)

    days.at(14.1, 140)
    assert days.old.holds
    assert days.old.reason.id == "alert: water old, treatment not told"


def test_a_fresh_fill_clears_it() -> None:
    days = Days()
    days.at(0, 150)
    days.at(20, 5)
    days.filled(20.01, 200, treated=False)

    assert days.old.clears


def test_the_time_the_watch_was_off_counts() -> None:
    days = lived_in()
    again = Days()
    again.watch.restore(days.watch.state())
    again.watch.new_boot()
    again.at(9.01, 200)

    assert again.age.mean_days == pytest.approx(8, abs=0.1)
    assert again.age.source == "quay"


def test_a_tank_filled_while_the_watch_was_off_is_as_young_as_can_be_told() -> None:
    days = lived_in()
    days.at(11.01, 50)
    again = Days()
    again.watch.restore(days.watch.state())
    again.at(15.01, 200)

    assert again.age.mean_days == pytest.approx(14 * 50 / 200, abs=0.1)


def test_another_table_is_no_new_water() -> None:
    """The same reading told by a taught table: more litres, as old as they were."""
    days = lived_in()
    days.at(6.01, 100, table=[(0, 0), (100, 200)])
    days.at(6.02, 140, table=[(0, 0), (50, 140), (100, 200)])

    assert days.age.mean_days == pytest.approx(5, abs=0.1)


def test_without_a_clock_nothing_is_told() -> None:
    days = lived_in()
    days.at(0, 200, clock=False)

    assert days.age.mean_days is None
    assert (days.old.holds, days.old.clears) == (None, None)


def test_before_the_first_minute_nothing_is_known() -> None:
    (found,) = WaterAgeWatch(SETTINGS).findings()

    assert (found.rule, found.subject, found.holds, found.clears) == ("water old", "fore", None, None)


moves = st.lists(
    st.tuples(st.floats(0, 5), st.floats(-120, 150), st.sampled_from([True, False, None])), max_size=40
)


@given(moves)
def test_the_mean_agrees_with_water_followed_by_its_moments(
    story: list[tuple[float, float, bool | None]],
) -> None:
    """Independent: a mixed tank's volume V and its volume-days A obey dA/dt = V, A falls with V when
    drawn, and is unchanged by new water. However parcels are merged, the mean is A / V."""
    parcels: Parcels = (Parcel(0.0, 100.0, None, known=True),)
    now, volume, volume_s = 0.0, 100.0, 0.0
    for days, litres, treated in story:
        now += days * DAY
        volume_s += volume * days * DAY
        if litres >= 0:
            parcels, volume = poured(parcels, Parcel(now, litres, treated, known=True)), volume + litres
        else:
            to_L = max(1.0, volume + litres)
            volume_s, volume = volume_s * to_L / volume, to_L
            parcels = drawn(parcels, to_L)
        assert total_L(parcels) == pytest.approx(volume, rel=1e-6)
        assert mean_age_s(parcels, now) == pytest.approx(volume_s / volume, rel=1e-6, abs=1.0)
        assert len(parcels) <= 8
