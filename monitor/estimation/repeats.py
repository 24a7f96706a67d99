"""How well the full charges of this boat repeat: the noise of a closure, learned from the closures.

What a closure misses beyond what is not known of the sensor is due to two full charges and to what the
sensor wandered between them. Both are believed at first (common practice); how far each closure was off,
in parts of that, says what they are here:

    factor = (n0 + sum of w z²) / (n0 + sum of w)

z is the miss in standard deviations, in which the factor believed then is divided out, and w the share that
this noise has in the miss. That is the mean of an inverse gamma prior worth n0 closures.
"""

from typing import Any

_AS_BELIEVED = 2.0
"""That it is as great as believed at first weighs as much as two closures."""
_REMEMBERED = 0.97
"""Of every closure, with each one after it."""
_LEAST, _MOST = 0.3**2, 2.0**2


class Repeats:
    """Sums over closures."""

    def __init__(self) -> None:
        self._seen = self._weight = 0.0

    @property
    def factor(self) -> float:
        """Variance of fulls and wander, in parts of what is believed at first."""
        return min(max((_AS_BELIEVED + self._seen) / (_AS_BELIEVED + self._weight), _LEAST), _MOST)

    def closed(self, z: float, believed_Ah2: float, variance_Ah2: float) -> None:
        """A closure was off by z standard deviations; of its variance so much is due to fulls and wander as
        they were believed at first."""
        weight = min(1.0, self.factor * believed_Ah2 / variance_Ah2)
        seen = weight * self.factor * z**2
        self._seen, self._weight = _REMEMBERED * self._seen + seen, _REMEMBERED * self._weight + weight

    def state(self) -> Any:
        return [self._seen, self._weight]

    def restore(self, state: Any) -> None:
        self._seen, self._weight = (float(value) for value in state)
