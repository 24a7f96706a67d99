"""The accumulator: how much water it gives between the pump's stop and its next start."""

from monitor.settings import Pump

AIR_BAR = 1.01325
"""Standard atmosphere. [bar]"""

NO_ACCUMULATOR_L = 0.04
"""What hoses and a pump's own chamber give where no accumulator is named: 0.03 to 0.05 L
(common practice). [L]"""

SPENT_SHARE = 0.02
"""The least a pressure switch leaves between cut-out and cut-in, of the accumulator's volume."""


def drawdown_L(
    volume_L: float, precharge_bar: float, cut_in_bar: float, cut_out_bar: float, air_bar: float = AIR_BAR
) -> float:
    """Water given between cut-out and cut-in.

    V_d = V p_0 (1/max(p_0, p_in) - 1/p_out), Boyle's law with absolute pressures: below its
    pre-charge p_0 an accumulator holds no water, so a pre-charge above cut-in counts as cut-in.

    Args:
        volume_L: Gas volume of the empty accumulator. [L]
        precharge_bar: Gas pressure with no water in it, gauge. [bar]
        cut_in_bar: Pressure at which the pump starts, gauge. [bar]
        cut_out_bar: Pressure at which the pump stops, gauge. [bar]
        air_bar: Pressure of the air around, absolute. [bar]

    Valid for slow draws (minutes): a fast one is nearer adiabatic and gives less.

    Raises:
        ValueError: unless cut-in < cut-out and nothing is below a vacuum.

    Source: B. Pelikan, "How to calculate and control pressure tank drawdown", The Driller, 2006.
    """
    if not (volume_L > 0 and -air_bar < precharge_bar and -air_bar < cut_in_bar < cut_out_bar):
        raise ValueError(
            f"expected cut-in below cut-out, got {volume_L} L,"
            f" {precharge_bar}, {cut_in_bar}, {cut_out_bar} bar"
        )
    gas, low, high = (p + air_bar for p in (precharge_bar, cut_in_bar, cut_out_bar))
    return max(0.0, volume_L * (gas / max(gas, low) - gas / high))


def pump_drawdown_L(pump: Pump) -> float:
    """The drawdown that a pump's settings promise; `NO_ACCUMULATOR_L` without an accumulator. [L]"""
    if pump.drawdown_L is not None:
        return pump.drawdown_L
    a = pump.accumulator
    if a is None:
        return NO_ACCUMULATOR_L
    given_L = drawdown_L(a.volume_L, a.precharge_bar, a.cut_in_bar, a.cut_out_bar)
    return max(given_L, SPENT_SHARE * a.volume_L, NO_ACCUMULATOR_L)
