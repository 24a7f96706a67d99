"""What the three do about what they see: engine in the forenoon, the tank's cock, jerry cans.

They go by their instruments, not by the truth: a monitor that has drifted misleads them.
"""

from monitor.clock import HOUR_S

CAN_L = 20.0
CANS = 6
CAN_EVERY_S = 480
HOSE_L_PER_MIN = 14.0
ENGINE_CHECK_H = 9.5
WATER_CHECK_H = 10.25
HOSE_H = 8.5
LONGEST_ENGINE_S = int(3.5 * HOUR_S)
AWAKE_H = (7.0, 23.0)


def cans(room_L: float) -> list[float]:
    """The jerry cans that go into that much room, in litres each."""
    return [CAN_L] * min(CANS, int(room_L // CAN_L))


def hose(room_L: float) -> list[float]:
    """The hose's litres, minute by minute, until that much is in."""
    whole = int(room_L // HOSE_L_PER_MIN)
    return [HOSE_L_PER_MIN] * whole + [room_L - whole * HOSE_L_PER_MIN]
