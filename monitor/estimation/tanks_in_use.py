"""Which tanks of one pump are in use, and whose senders are stuck."""

from collections.abc import Sequence

from monitor.estimation.tank_figures import ISOLATED
from monitor.estimation.tanks import TankLevel


def mark_stuck(levels: Sequence[TankLevel]) -> None:
    """Compare the tanks of one pump: which is in use, and whether its sender is stuck.

    The tanks that fall are in use. Where none has fallen for what was pumped, the senders of
    those that were last in use are stuck, once a fall of any other would have shown, until they
    move. Nothing is concluded while a tank is held or silent; one that is shut off is left out.
    """
    open_ones = [level for level in levels if level.condition != ISOLATED]
    if not open_ones or not all(level.good for level in open_ones):
        return
    in_use = [level for level in open_ones if not level.follows.flat]
    shows_L = max(level.follows.shows_L for level in open_ones)
    unexplained_L = min(level.follows.unfallen_L for level in open_ones)
    for level in open_ones:
        level.unexplained_L = unexplained_L
        if in_use:
            level.follows.share = (not level.follows.flat) / len(in_use)
        elif level.share != 0.0 and level.follows.pumped_L >= shows_L:
            level.follows.stuck = True
