"""The learned array and sky: hand-made days whose gain and clearness are known; yield against pvlib."""

from datetime import UTC, datetime

import numpy as np
import numpy.typing as npt
import pandas as pd  # type: ignore[import-untyped]
import pvlib
import pytest

from monitor.clock import DAY_S, HOUR_S
from monitor.estimation import array
from monitor.estimation.forecast import forecast
from monitor.estimation.sun import clear_sky_hours
from monitor.estimation.use import Days, UseHistory

HERE = (42.55, -8.9)
START_S = datetime(2026, 6, 1, tzinfo=UTC).timestamp()
Floats = npt.NDArray[np.float64]


def clear_days(days: int) -> Floats:
    """The newest first, as histories have them."""
    newest_last: Floats = clear_sky_hours(*HERE, START_S, days * 24).reshape(days, 24)
    return newest_last[::-1]


def days_of(sun: Floats, full: Floats | None = None) -> Days:
    count = len(sun)
    none = np.zeros_like(sun)
    return Days(np.arange(1, count + 1), none, sun, sun, none if full is None else full)


def skies(count: int, seed: int = 3) -> Floats:
    """Clearness of each day: an autoregression with memory 0.5 about 0.7."""
    rng = np.random.default_rng(seed)
    k = np.full(count, 0.7)
    for day in range(count - 2, -1, -1):
        k[day] = 0.7 + 0.5 * (k[day + 1] - 0.7) + rng.normal(0, 0.1)
    clipped: Floats = np.clip(k, 0.1, 1.0)
    return clipped


def test_gain_times_clearness_is_what_was_made() -> None:
    """Own arithmetic: gain 1.5 m² all day, half of it until 9 UTC behind the mast. The gain is the 95th
    percentile of 1.5 k, so gain times the day's clearness gives 1.5 k back at every hour."""
    clear, k = clear_days(30), skies(30)
    true = np.where(np.arange(24) < 9, 0.75, 1.5)

    found = array.learn(days_of(clear * true * k[:, None]), clear)

    assert found is not None
    lit = clear.mean(axis=0) > 20
    ratio = found.gain[lit] / (true * np.quantile(k, 0.95))[lit]
    assert ratio == pytest.approx(1.0, abs=0.01)
    assert found.gain[12] * found.clearness == pytest.approx(1.5 * k, rel=0.01)


def test_an_hour_at_full_teaches_no_lower_gain_and_no_lower_clearness() -> None:
    """From 12 UTC on the bank is full and takes a tenth of what there is. Untold, that would teach a
    tenth of the afternoon's gain and two fifths of the sun; told, both are as if it had taken all."""
    clear, k = clear_days(30), skies(30)
    whole = clear * 1.5 * k[:, None]
    late = np.arange(24) >= 12
    taken = np.where(late, 0.1 * whole, whole)

    told = array.learn(days_of(taken, np.tile(late.astype(float), (30, 1))), clear)
    untold = array.learn(days_of(taken), clear)
    open_ = array.learn(days_of(whole), clear)

    assert told is not None
    assert untold is not None
    assert open_ is not None
    lit = clear.mean(axis=0) > 20
    assert told.gain[lit] == pytest.approx(open_.gain[lit], rel=0.05)
    assert told.mean * told.gain[14] == pytest.approx(open_.mean * open_.gain[14], rel=0.05)
    assert untold.mean * untold.gain[14] < 0.2 * open_.mean * open_.gain[14]


@pytest.mark.parametrize(("took", "known"), [(0.9, True), (0.1, False)])
def test_a_day_full_from_dawn_is_as_clear_as_what_it_took_at_least(took: float, known: bool) -> None:
    """Four clear days and fifteen dull ones of clearness 0.2: their mean is near 0.4, the gain 1. A day at
    full all through that took nine tenths of a clear sky was no darker than that; one that took a tenth
    may have been anything."""
    clear = clear_days(20)
    k = np.array([took] + 4 * [1.0] + 15 * [0.2])
    full = np.zeros_like(clear)
    full[0] = 1.0

    found = array.learn(days_of(clear * k[:, None], full), clear)

    assert found is not None
    assert (found.age[0] == 1) == known
    assert not known or found.clearness[0] == pytest.approx(took, rel=0.01)


def test_the_memory_of_the_sky_is_learned_and_drawn_to_the_usual() -> None:
    """The autocorrelation of the drawn days over all of them is 0.5; 59 pairs of it and 20 of the usual
    0.3 give (59 x 0.5 + 20 x 0.3) / 79 = 0.45, give or take the sampling error of 59 pairs, 0.11."""
    clear, k = clear_days(60), skies(60, seed=8)

    many = array.learn(days_of(clear * k[:, None]), clear)
    few = array.learn(days_of(clear * k[:, None])._replace(age=np.arange(1, 121, 2)), clear)

    assert many is not None
    assert few is not None
    assert many.memory == pytest.approx(0.45, abs=0.11)
    assert few.memory == array.USUAL_MEMORY, "no two days follow one another"


@pytest.mark.parametrize("days", [0, 1, 2])
def test_too_few_days_teach_nothing(days: int) -> None:
    clear = clear_days(days)

    assert array.learn(days_of(clear * 1.5), clear) is None


def test_without_a_meter_nothing_is_learned() -> None:
    clear = clear_days(30)

    assert array.learn(days_of(np.full_like(clear, np.nan)), clear) is None


def test_the_coming_days_fall_back_from_today_to_the_mean() -> None:
    """Conditional mean k(h) = r^h k_today + (1 - r^h) mean (D. Yang, Solar Energy 193:981, 2019, with r the
    autocorrelation): over 20,000 futures within 0.01, since their spread is near 0.1."""
    ages = np.arange(1, 41)
    k = np.where(ages == 1, 0.3, 0.7 + 0.05 * (-1.0) ** ages)
    found = array.Array(np.ones(24), ages, k, 0.7, 0.0, 0.6)
    clear = np.ones((5, 24))

    futures = array.coming(found, clear, 20_000, np.random.default_rng(5)).reshape(-1, 5, 24)[:, :, 0]

    expected = [0.7 + 0.6 ** (day + 1) * (0.3 - 0.7) for day in range(5)]
    assert futures.mean(axis=0) == pytest.approx(expected, abs=0.02)
    assert futures.min() >= array.DARKEST
    assert futures.max() <= array.CLEAREST


def test_the_year_of_a_level_panel_is_what_a_general_solar_library_makes_of_it() -> None:
    """PVWatts by pvlib on measured sun: TMY3 station 723170 Greensboro, a level 100 W panel, cells at 25 °C,
    14.08 % losses. Once a week a day is told from the thirty before. The weeks' mean is the year's within
    5 %: the season's lag cancels over the year, the weather's sampling error is some 2 %."""
    path = f"{pvlib.__path__[0]}/data/723170TYA.CSV"
    data, about = pvlib.iotools.read_tmy3(path, map_variables=True)
    ghi = np.roll(data["ghi"].to_numpy(float), -round(float(about["TZ"])))
    dc_W = pvlib.pvsystem.pvwatts_dc(ghi, 25.0, 100.0, -0.0035)
    made = (dc_W * (1 - pvlib.pvsystem.pvwatts_losses() / 100)).reshape(365, 24)
    january = datetime(2026, 1, 1, tzinfo=UTC).timestamp()
    clear = clear_sky_hours(about["latitude"], about["longitude"], january, 365 * 24).reshape(365, 24)
    rng = np.random.default_rng(2)

    told = []
    for day in range(0, 365, 7):
        past = np.arange(day - 1, day - 31, -1) % 365
        found = array.learn(days_of(made[past]), clear[past])
        assert found is not None
        told.append(array.coming(found, clear[day : day + 1], 400, rng).sum(axis=1).mean())

    assert np.mean(told) == pytest.approx(made.sum(axis=1).mean(), rel=0.05)


def test_the_clear_hours_are_means_of_the_clear_sky_of_pvlib() -> None:
    times = pd.to_datetime(START_S + np.arange(0, DAY_S, 60.0) + 30, unit="s", utc=True)
    sun = pvlib.solarposition.get_solarposition(times, *HERE)
    expected = pvlib.clearsky.haurwitz(sun.zenith).ghi.to_numpy().reshape(24, 60).mean(axis=1)

    assert clear_sky_hours(*HERE, START_S, 24) == pytest.approx(expected, abs=1.5)


def test_after_days_full_by_noon_more_use_is_not_more_than_the_sun_can_give() -> None:
    """Own arithmetic. An array that could make 3000 Wh of every day fills the bank by noon and is then
    asked for 1500 Wh. The crew doubles what it uses: 2600 Wh is still less than the array can make, so the
    bank never meets its reserve. Taken as taken, the sun would fall short by 1100 Wh a day."""
    clear = clear_sky_hours(*HERE, START_S, 30 * 24)
    potential = clear * (3000.0 / clear[:24].sum())
    use, left = UseHistory(), 3000.0
    for hour in range(30 * 24):
        used = 1300.0 / 24
        taken = min(potential[hour], used + 3000.0 - left)
        full = 0.0 if potential[hour] <= taken + 1e-9 else HOUR_S
        left += taken - used
        use.add(START_S + hour * HOUR_S, "at anchor", "awake", used, taken, HOUR_S, taken, full)
    # Two days of double use, charged by the engine at night so that the sun finds the bank full by noon.
    for hour in range(30 * 24, 34 * 24):
        use.add(START_S + hour * HOUR_S, "at anchor", "awake", 2600.0 / 24, 0.0, HOUR_S, 0.0, HOUR_S)
    now = START_S + 34 * DAY_S

    known, as_taken = (
        forecast(now, 2500.0, 0.0, 0.0, 3000.0, use, "at anchor", 1.0, 1.0, position=position)
        for position in (HERE, None)
    )

    assert known.likely_days > as_taken.likely_days + 2
