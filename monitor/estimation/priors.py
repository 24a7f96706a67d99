"""What is believed of a bank and its sensor before anything is learned."""

from typing import NamedTuple


class Prior(NamedTuple):
    """Means, and standard deviations in the same order.

    Common practice: 150 mA is 15 µV at a 500 A, 50 mV shunt; a bank's capacity is within 9 % of its label
    (15 % for lead); lithium iron phosphate gives back 99.6 % (0.99617 measured at 25 °C in the ESC
    toolbox data), lead some 90 %.
    """

    offset_sd_A: float
    loss: float
    loss_sd: float
    capacity_sd: float
    gain_sd: float


PRIORS: dict[str, Prior] = {
    "lifepo4": Prior(0.15, 0.003, 0.002, 0.09, 0.005),
    "lead": Prior(0.15, 0.10, 0.05, 0.15, 0.005),
}
