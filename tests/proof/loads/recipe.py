"""How `households.npz` beside this was made: six household-years of a published load model.

The model is that of Richardson, Thomson, Infield and Clifford, "Domestic electricity use: a
high-resolution energy demand model", Energy and Buildings 42 (2010), as the package richardsonpy 0.2.3
has it: occupants come and go by a Markov chain, appliances and lamps are switched by them minute by
minute. It knows nothing of this project. Made once, in an environment of its own:

    python -m venv there && there/bin/pip install richardsonpy==0.2.3
    there/bin/python tests/proof/loads/recipe.py

`watts` is int16, one row a year, one column an hour of UTC from Monday the 1st of January.
"""

import random
from pathlib import Path

import numpy as np
import richardsonpy.classes.electric_load as loads  # type: ignore[import-not-found]
import richardsonpy.classes.occupancy as occupancy  # type: ignore[import-not-found]
import richardsonpy.functions.change_resolution as resolution  # type: ignore[import-not-found]
import richardsonpy.functions.load_radiation as radiation  # type: ignore[import-not-found]

OCCUPANTS = (1, 2, 2, 3, 4, 5)
HERE = Path(__file__).parent


def year(seed: int, occupants: int) -> np.ndarray:
    """Mean watts of 8760 hours; no electric heating of rooms."""
    random.seed(seed)
    np.random.seed(seed)
    people = occupancy.Occupancy(number_occupants=occupants)
    direct, diffuse = (
        resolution.change_resolution(q, old_res=3600, new_res=60) for q in radiation.get_rad_from_try_path()
    )
    load = loads.ElectricLoad(
        occ_profile=people.occupancy,
        total_nb_occ=occupants,
        q_direct=direct,
        q_diffuse=diffuse,
        timestep=60,
        prev_heat_dev=True,
    )
    watts: np.ndarray = load.loadcurve.reshape(-1, 60).mean(axis=1)
    return watts


if __name__ == "__main__":
    rows = [year(100 + n, occupants) for n, occupants in enumerate(OCCUPANTS)]
    watts = np.round(np.array(rows)).astype(np.int16)
    np.savez_compressed(HERE / "households.npz", watts=watts)
