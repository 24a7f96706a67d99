"""Fast packets: up to 223 bytes in up to 32 frames of one group number.

Byte 0 of each frame holds the sequence (bits 7-5) and the frame's number (bits 4-0). Frame 0 adds
the payload's length and holds 6 bytes of it, the others hold 7, the last is filled up with FF.
Packets of several senders, groups and sequences may interleave. One that stands still for 750 ms
is given up. Source: NMEA 2000 fast packet, as the nmea2k and nmea2000 packages implement it.
"""

LONGEST = 6 + 31 * 7
TIMEOUT_S = 0.75
_MANY = 64
"""With more unfinished packets than this, the timed out ones are looked for."""


class Assembler:
    """Puts payloads together. `dropped` counts frames that became part of none."""

    def __init__(self) -> None:
        self.dropped = 0
        # By sender, group and sequence: the next frame's number, the length, when, the bytes.
        self._open: dict[tuple[int, int, int], tuple[int, int, float, bytes]] = {}

    def feed(self, at_s: float, source_address: int, pgn: int, data: bytes) -> bytes | None:
        """The whole payload if this frame was its last, else None. Never raises."""
        if not data:
            self.dropped += 1
            return None
        head = data[0]
        key = (source_address, pgn, head & 0xE0)
        number = head & 0x1F
        if number == 0:
            return self._first(at_s, key, data)
        packet = self._open.pop(key, None)
        if packet is None:
            self.dropped += 1
            return None
        expected, length, before_s, so_far = packet
        if number != expected or not 0 <= at_s - before_s <= TIMEOUT_S:
            self.dropped += expected + 1
            return None
        payload = so_far + data[1:8]
        if len(payload) >= length:
            return payload[:length]
        if len(data) < 8:
            self.dropped += expected + 1
            return None
        self._open[key] = (number + 1, length, at_s, payload)
        return None

    def _first(self, at_s: float, key: tuple[int, int, int], data: bytes) -> bytes | None:
        if (unfinished := self._open.pop(key, None)) is not None:
            self.dropped += unfinished[0]
        length = data[1] if len(data) > 1 else 0
        if 0 < length <= len(data) - 2:
            return data[2 : 2 + length]
        if not 0 < length <= LONGEST or len(data) < 8:
            self.dropped += 1
            return None
        if len(self._open) >= _MANY:
            self._forget_older_than(at_s - TIMEOUT_S)
        self._open[key] = (1, length, at_s, data[2:8])
        return None

    def _forget_older_than(self, at_s: float) -> None:
        for key in [k for k, packet in self._open.items() if packet[2] < at_s]:
            self.dropped += self._open.pop(key)[0]


def split_payload(payload: bytes, sequence: int) -> list[bytes]:
    """The frames' data for a payload of 1 to 223 bytes. Raises ValueError for any other length."""
    if not 1 <= len(payload) <= LONGEST:
        raise ValueError(f"a fast packet holds 1 to {LONGEST} bytes, not {len(payload)}")
    head = (sequence & 7) << 5
    frames = [bytes((head, len(payload))) + payload[:6]]
    frames += [bytes((head | n,)) + payload[7 * n - 1 : 7 * n + 6] for n in range(1, (len(payload) + 7) // 7)]
    return [frame.ljust(8, b"\xff") for frame in frames]
