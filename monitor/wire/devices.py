"""Who holds which address: devices are known by their 64-bit NAME, addresses come and go.

Address claims (60928) alone tell. Of two devices that contest an address the one with the lower
NAME claims it again at once and the other leaves, so the last claim heard is the one that holds.
Source: SAE J1939-81; Linux kernel documentation, networking/j1939.
"""

from monitor.errors import UndecodableError
from monitor.wire.identifier import NOWHERE


class Devices:
    """The address book of one bus."""

    def __init__(self) -> None:
        self._names: dict[int, int] = {}
        self._addresses: dict[int, int] = {}

    def feed(self, address: int, payload: bytes) -> None:
        """Take an address claim. Raises UndecodableError if the NAME is not whole."""
        if len(payload) < 8:
            raise UndecodableError(f"address claim (60928): {len(payload)} bytes, expected 8")
        name = int.from_bytes(payload[:8], "little")
        before = self._addresses.pop(name, None)
        if before is not None:
            self._names.pop(before, None)
        if address >= NOWHERE:
            return
        loser = self._names.pop(address, None)
        if loser is not None:
            self._addresses.pop(loser, None)
        self._names[address] = name
        self._addresses[name] = address

    def name_of(self, address: int) -> int | None:
        """The NAME at `address`, None until it has claimed it."""
        return self._names.get(address)

    def address_of(self, name: int) -> int | None:
        """Where the device of that NAME is now, None while it has no address."""
        return self._addresses.get(name)
