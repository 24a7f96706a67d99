"""Fast packets: up to 223 bytes in up to 32 frames of one group number.

Byte 0 of each frame holds the sequence (bits 7-5) and the frame's number (bits 4-0). Frame 0 adds
the payload's length and holds 6 bytes of it, the others hold 7, the last is filled up with FF.
Packets of several senders, groups and sequences may interleave. One that stands still for 750 ms
is given up. Source: the rules of NMEA 2000 as the PyPI packages nmea2k and nmea2000 follow them.
"""

LONGEST = 6 + 31 * 7
TIMEOUT_S = 0.75


class Stream:
    """The fast packets of one group number from one sender, eight sequences at most.

    `dropped` counts frames that became part of no payload.
    """

    __slots__ = ("_open", "dropped")

    def __init__(self) -> None:
        self.dropped = 0
        # By sequence: byte 0 of the frame that must come next, since when, the length, the bytes.
        self._open: list[tuple[int, float, int, bytes] | None] = [None] * 8

    def feed(self, at_s: float, data: bytes) -> bytes | None:
        """The whole payload if this frame was its last, else None. Never raises."""
        if not data:
            self.dropped += 1
            return None
        head = data[0]
        packet = self._open[head >> 5]
        if packet is None or packet[0] != head:
            return self._out_of_order(at_s, head, data)
        _, before_s, length, so_far = packet
        payload = so_far + data[1:8]
        if not 0 <= at_s - before_s <= TIMEOUT_S:
            return self._out_of_order(at_s, head, data)
        if len(payload) >= length:
            self._open[head >> 5] = None
            return payload[:length]
        if len(data) < 8:
            return self._out_of_order(at_s, head, data)
        self._open[head >> 5] = head + 1, at_s, length, payload
        return None

    def _out_of_order(self, at_s: float, head: int, data: bytes) -> bytes | None:
        """A first frame, or one that does not belong where it came. Either ends what was open."""
        packet = self._open[head >> 5]
        if packet is not None:
            self.dropped += packet[0] & 0x1F
            self._open[head >> 5] = None
        length = data[1] if len(data) > 1 else 0
        if head & 0x1F or not 0 < length <= LONGEST or len(data) < min(8, 2 + length):
            self.dropped += 1
            return None
        if length <= 6:
            return data[2 : 2 + length]
        self._open[head >> 5] = head + 1, at_s, length, data[2:8]
        return None


class Assembler:
    """Puts the payloads of a whole bus together, keyed by sender, group number and sequence."""

    def __init__(self) -> None:
        self._streams: dict[tuple[int, int], Stream] = {}

    @property
    def dropped(self) -> int:
        """How many frames became part of no payload."""
        return sum(stream.dropped for stream in self._streams.values())

    def stream(self, source_address: int, pgn: int) -> Stream:
        """One sender's packets of one group number: to be looked up once and kept."""
        stream = self._streams.get((source_address, pgn))
        if stream is None:
            stream = self._streams[source_address, pgn] = Stream()
        return stream

    def feed(self, at_s: float, source_address: int, pgn: int, data: bytes) -> bytes | None:
        """The whole payload if this frame was its last, else None. Never raises."""
        return self.stream(source_address, pgn).feed(at_s, data)


def split_payload(payload: bytes, sequence: int) -> list[bytes]:
    """The frames' data for a payload of 1 to 223 bytes. Raises ValueError for any other length."""
    if not 1 <= len(payload) <= LONGEST:
        raise ValueError(f"a fast packet holds 1 to {LONGEST} bytes, not {len(payload)}")
    head = (sequence & 7) << 5
    frames = [bytes((head, len(payload))) + payload[:6]]
    frames += [bytes((head | n,)) + payload[7 * n - 1 : 7 * n + 6] for n in range(1, (len(payload) + 7) // 7)]
    return [frame.ljust(8, b"\xff") for frame in frames]
