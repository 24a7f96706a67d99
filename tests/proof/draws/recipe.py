"""How `waters.npz` beside this was made: six household-years of a published model of water use.

The model is that of Blokker, Vreeburg and van Dijk, "Simulating residential water demand with a stochastic
end-use model", Journal of Water Resources Planning and Management 136 (2010), as the package pysimdeum
1.0.1 has it (the statistics are those of Dutch homes): who lives there, when they are up and at home, and
for each tap and shower how often, how long and how strongly. It knows nothing of this project. Of its
fixtures those stay that a boat has, taps and the shower: the WC is flushed with sea water, and bath,
machines and garden are left ashore. Made once, in an environment of its own:

    python -m venv there
    there/bin/pip install pysimdeum==1.0.1 pandas==2.1.4 numpy==1.26.4 xarray==2024.1.1 scipy==1.11.4
    there/bin/python tests/proof/draws/recipe.py

`litres` is int16 in hundredths of a litre, one row a year, one column an hour; `heads` how many live there.
The proof scales each year to a boat.
"""

import warnings
from pathlib import Path

import numpy as np
from pysimdeum.core.house import House, Property  # type: ignore[import-not-found]
from pysimdeum.core.statistics import Statistics  # type: ignore[import-not-found]

HOMES = ("one_person", "two_person", "two_person", "two_person", "family", "family")
ABOARD = ("KitchenTap", "BathroomTap", "Shower")
DAYS = 365
HERE = Path(__file__).parent


def year(seed: int, kind: str) -> tuple[np.ndarray, int]:
    """Litres of 8760 hours, and the number of people. Who is up when is drawn anew every day."""
    np.random.seed(seed)
    statistics = Statistics()
    home: House = Property(statistics=statistics).built_house(house_type=kind)
    home.populate_house()
    home.furnish_house()
    home.appliances = [a for a in home.appliances if a.statistics["classname"] in ABOARD]
    days = []
    for _ in range(DAYS):
        for user in home.users:
            user.compute_presence(statistics=statistics)
        flow_L_s = home.simulate().sel(flowtypes="totalflow").sum(["user", "enduse", "patterns"]).to_numpy()
        days.append(flow_L_s[:86400].reshape(24, 3600).sum(axis=1))
    return np.concatenate(days), len(home.users)


if __name__ == "__main__":
    warnings.simplefilter("ignore")
    years = [year(200 + n, kind) for n, kind in enumerate(HOMES)]
    litres = np.round(np.array([hours for hours, _ in years]) * 100).astype(np.int16)
    np.savez_compressed(HERE / "waters.npz", litres=litres, heads=np.array([heads for _, heads in years]))
