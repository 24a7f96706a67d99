"""How `nights.npz` beside this was made: twelve households of a published load model, four nights each.

The model is that of Richardson, Thomson, Infield and Clifford, "Domestic electricity use: a
high-resolution energy demand model", Energy and Buildings 42 (2010), as the package richardsonpy 0.2.3
has it: occupants come and go by a Markov chain, appliances of a table and lamps are switched minute by
minute. It knows nothing of this project. Made once, in an environment of its own:

    python -m venv there && there/bin/pip install richardsonpy==0.2.3
    there/bin/python tests/proof/appliances/recipe.py

What is not the model's: its days begin at noon, because it begins each with everything off; an appliance
keeps the power it was drawn with for all four nights; what changes with a minute does so at a second of
that minute, drawn for each appliance and minute; electric heat for water and rooms is left out; a household
keeps food cold, or it is drawn again. Cycles per year are the table's own. The package looks an activity up
at 5 x occupants + activity in a table of six activities an occupant, so that laundry goes by the hours of
cooking: it is handed a table of five, and the sixth, cleaning, is left out with the vacuum cleaner.

One row a run in `runs`: household, night, which of `names`, first second and the one after the last
(from 16:00), watts above the appliance's standby power. `standing_W` is all standby powers of a household.
"""

import random
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import richardsonpy  # type: ignore[import-not-found]
import richardsonpy.classes.appliance as appliance  # type: ignore[import-not-found]
import richardsonpy.classes.lighting as lighting  # type: ignore[import-not-found]
import richardsonpy.classes.occupancy as occupancy  # type: ignore[import-not-found]
import richardsonpy.classes.stochastic_el_load_wrapper as wrapper  # type: ignore[import-not-found]
import richardsonpy.functions.change_resolution as resolution  # type: ignore[import-not-found]
import richardsonpy.functions.load_radiation as radiation  # type: ignore[import-not-found]

OCCUPANTS = (1, 2, 2, 3, 4, 5) * 2
NIGHTS = 4
HERE = Path(__file__).parent
INPUTS = Path(richardsonpy.__file__).parent / "inputs"
COLD, LEFT_OUT, PROGRAMMES = range(4), (10, *range(28, 33)), (26, 27)
"""Rows of the table: what keeps food cold; vacuum and heat; what changes its power by a programme."""
DAY, NOON = 1440, 720
FROM, TO = 4 * 60, 20 * 60
"""16:00 to 08:00, in minutes from noon."""


def owned() -> Any:
    """The model's appliances, as a household came by them, each with its own rated power and standby."""
    while True:
        table = appliance.Appliances(str(INPUTS / "Appliances.csv"), randomize_appliances=True)
        table.estimate_annual_consumption(1, 0.459)
        for row in LEFT_OUT:
            table.data[row][0] = 0
        if any(table.data[row][0] for row in COLD):
            return table


def names() -> list[str]:
    lines = (INPUTS / "Appliances.csv").read_text("utf-8").splitlines()[1:]
    return [line.split(";")[1] for line in lines]


def runs_of(watts: np.ndarray) -> list[tuple[int, int, int]]:
    """Of one appliance from 16:00 on: each stretch of equal power, to a drawn second of its minutes."""
    edges = np.flatnonzero(np.diff(watts)) + 1
    bounds = [0, *edges, DAY]
    seconds = 60 * np.arange(DAY + 1) + np.random.randint(0, 60, DAY + 1) - 60 * FROM
    seconds = np.clip(seconds, 0, 60 * (TO - FROM))
    found = [(int(seconds[a]), int(seconds[b]), round(watts[a])) for a, b in pairwise(bounds)]
    return [run for run in found if run[2] > 0 and run[1] > run[0]]


def household(number: int, sun: np.ndarray) -> tuple[list[tuple[int, ...]], int]:
    """Its runs, and what it draws with everything off [W]."""
    random.seed(700 + number)
    np.random.seed(700 + number)
    people = occupancy.Occupancy(OCCUPANTS[number], initial_day=1, nb_days=NIGHTS + 1).occupancy
    table = owned()
    bulbs = lighting.load_lighting_profile(str(INPUTS / "LightBulbs.csv"), index=number)
    habits = wrapper.ElectricityProfile(table, bulbs)
    activity = np.array(habits.activity_statistics["wd"]).reshape(6, 6, -1)[:, :5].reshape(30, -1)
    activity[:, 2:] = np.roll(activity[:, 2:], -72, axis=1)
    rated = [round(random.gauss(row[4], row[4] / 10)) for row in table.data]
    rows: list[tuple[int, ...]] = []
    for night in range(NIGHTS):
        awake = people[72 + 144 * night :][:144].astype(int).tolist()
        noon = DAY * (30 * number + night) + NOON
        used = np.array(appliance.run_application_simulation(awake, table, activity.tolist()), dtype=float)
        lamps = np.array(
            lighting.run_lighting_simulation(awake, bulbs, sun[noon : noon + DAY], habits.lighting_config)
        )
        for which, watts in enumerate([*used, *lamps]):
            if which < len(used):
                standby = table.data[which][5]
                power = watts if which in PROGRAMMES else rated[which]
                watts = np.where(watts > standby, power - standby, 0.0)
            rows += [(number, night, which, *run) for run in runs_of(watts)]
    return rows, round(sum(row[5] for row in table.data if row[0]))


if __name__ == "__main__":
    irradiance = sum(
        resolution.change_resolution(q, old_res=3600, new_res=60) for q in radiation.get_rad_from_try_path()
    )
    found = [household(number, irradiance) for number in range(len(OCCUPANTS))]
    runs = np.array([run for rows, _ in found for run in rows])
    lamps = runs[:, 2].max() + 1 - len(names())
    np.savez_compressed(
        HERE / "nights.npz",
        runs=runs.astype(np.uint16),
        names=np.array([*names(), *(f"lamp {n + 1}" for n in range(lamps))]),
        standing_W=np.array([standing for _, standing in found], dtype=np.int16),
    )
