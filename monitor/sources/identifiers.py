"""CAN identifiers written in hexadecimal, as recordings and serial adapters write them."""

_HEX = frozenset("0123456789abcdefABCDEF")
_MOST = 20_000

HIGHEST = {3: 0x7FF, 8: 0x1FFFFFFF}
ERROR_FLAG = 0x20000000


class Identifiers(dict[str, tuple[int, bool]]):
    """From the text of an identifier to its number and whether it is extended (29 bits).

    Three digits are an 11-bit identifier and eight digits a 29-bit one. Remembers what it has
    seen, because a bus repeats a few dozen. Raises ValueError where the text is no identifier.
    """

    def __missing__(self, text: str) -> tuple[int, bool]:
        number = int(text, 16) if _HEX.issuperset(text) else -1
        if not 0 <= number <= HIGHEST.get(len(text), -1):
            raise ValueError(f"{text!r} is not a CAN identifier")
        if len(self) >= _MOST:
            self.clear()
        self[text] = number, len(text) == 8
        return self[text]


def is_error(text: str) -> bool:
    """Whether the text is the identifier of an error frame."""
    return len(text) == 8 and _HEX.issuperset(text) and int(text, 16) >> 29 == ERROR_FLAG >> 29
