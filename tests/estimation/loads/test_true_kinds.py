"""The oracle's kinds are the appliances as they were built."""

import pytest

from tests.estimation.loads.appliances import Compressor
from tests.estimation.loads.nights import lives
from tests.estimation.loads.true_kinds import most_taken, true_kinds


@pytest.mark.parametrize("seed", range(4))
def test_the_oracle_knows_each_appliance(seed: int) -> None:
    """Volts lie within 5 % of 12.8 and motors hardly follow them: what a motor ends with is its own power,
    and it begins with no more than its warming up adds (12 % at most)."""
    boat = lives(seed)
    nights = [boat.night(number) for number in range(3)]

    kinds = {kind.id: kind for kind in true_kinds(nights, names=5)}

    for built in boat.appliances:
        if isinstance(built, Compressor):
            assert kinds[built.name].watts == pytest.approx(built.takes_W, rel=0.02)
            assert 1.0 < kinds[built.name].start_W / kinds[built.name].watts < 1.13
            assert kinds[built.name].on_s == pytest.approx(built.on_s, rel=0.25)
    assert "standing" not in kinds
    assert {kind.name for kind in kinds.values() if kind.name} <= set(most_taken(nights)[:5])
    assert set(most_taken(nights)[:2]) == {"fridge", "freezer"}
