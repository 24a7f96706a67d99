"""How long charging takes: at full power, then less and less as the bank nears full.

Up to a share a of the capacity C a source gives its power P; beyond, in proportion to what is missing:

    dE/dt = P                          E <= a C
    dE/dt = P (C - E) / (C - a C)      E > a C

so that what is missing falls off with the time constant (1 - a) C / P. Lithium tapers in the last 5 %,
lead from 80 % on (common practice).
"""

import math

NEARLY_FULL = 0.995
"""No plan goes beyond this share: the last of it takes for ever."""


def minutes_to_add(Wh: float, from_Wh: float, capacity_Wh: float, net_W: float, taper_share: float) -> float:
    """How long it takes to add so much to a bank that holds `from_Wh`. [min]

    Infinite where the bank is then more than 99.5 % full, or where nothing is given. `taper_share` is a
    above, in (0, 1).
    """
    if Wh <= 0:
        return 0.0
    if net_W <= 0 or from_Wh + Wh > NEARLY_FULL * capacity_Wh:
        return math.inf
    bend_Wh = taper_share * capacity_Wh
    straight_Wh = min(Wh, max(0.0, bend_Wh - from_Wh))
    hours = straight_Wh / net_W
    missing_Wh = capacity_Wh - (from_Wh + straight_Wh)
    hours += (capacity_Wh - bend_Wh) / net_W * math.log(missing_Wh / (capacity_Wh - from_Wh - Wh))
    return 60 * hours


def added_Wh(minutes: float, from_Wh: float, capacity_Wh: float, net_W: float, taper_share: float) -> float:
    """What so many minutes add, up to 99.5 % of the capacity. [Wh] The inverse of `minutes_to_add`."""
    room_Wh = NEARLY_FULL * capacity_Wh - from_Wh
    if net_W <= 0 or minutes <= 0 or room_Wh <= 0:
        return 0.0
    bend_Wh = taper_share * capacity_Wh
    straight_Wh = min(net_W * minutes / 60, max(0.0, bend_Wh - from_Wh))
    hours = minutes / 60 - straight_Wh / net_W
    missing_Wh = capacity_Wh - (from_Wh + straight_Wh)
    faded_Wh = missing_Wh * -math.expm1(-hours * net_W / (capacity_Wh - bend_Wh))
    return min(room_Wh, straight_Wh + max(0.0, faded_Wh))
