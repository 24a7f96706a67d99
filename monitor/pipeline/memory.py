"""What was remembered through a restart, handed to whoever knows what to do with it.

What cannot be understood (written by another version, or damaged) is left behind and told: the
watch begins anew there instead of not beginning at all.
"""

from collections.abc import Callable, Mapping
from typing import Any

from monitor.records import Reason


class Memory:
    """The store's `recall`, read once at start."""

    def __init__(self, recalled: Mapping[str, Any]) -> None:
        self._recalled = recalled
        self.troubles: list[Reason] = []

    def restore(self, key: str, restore: Callable[[Any], object]) -> None:
        """Hand what stands under `key` to `restore`; nothing happens where there is nothing."""
        if key not in self._recalled:
            return
        try:
            restore(self._recalled[key])
        except (KeyError, TypeError, ValueError, AttributeError, IndexError):
            self.troubles.append(Reason("memory not understood", {"what": key}))

    def number(self, key: str) -> float:
        """The number under `key`; 0 where there is none."""
        value = self._recalled.get(key, 0.0)
        return float(value) if isinstance(value, int | float) else 0.0
