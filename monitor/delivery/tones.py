"""The tones of the loudspeaker, made here: WAV files of sixteen bits, one channel.

Their pitches lie where a small loudspeaker and an ageing ear do best (common practice: 500 Hz to 3 kHz).
"""

import math
import sys
import wave
from array import array
from pathlib import Path
from typing import NamedTuple

RATE_HZ = 22_050
EDGE_S = 0.01
"""A tone swells and fades within this, or it clicks."""


class Tone(NamedTuple):
    """A pitch for so long; silence at 0 Hz."""

    hz: float
    seconds: float


_UP, _DOWN, _BREATH = Tone(988, 0.18), Tone(740, 0.18), Tone(0, 0.07)
TONES: dict[str, tuple[tuple[Tone, ...], float]] = {
    "alarm": ((_DOWN, _BREATH, _UP, _BREATH, _DOWN, Tone(0, 0.6)), 0.9),
    "warning": ((Tone(660, 0.35), Tone(0, 0.1)), 0.6),
    "test": ((Tone(660, 0.12), Tone(0, 0.1)), 0.15),
}
"""By pattern, with their loudness: 1 is all there is."""


def write_tone(pattern: str, folder: Path) -> Path:
    """The WAV file of a pattern, in this folder."""
    tones, loudness = TONES[pattern]
    samples = array("h")
    for tone in tones:
        samples.extend(_samples(tone, loudness))
    if sys.byteorder == "big":
        samples.byteswap()
    path = folder / f"{pattern}.wav"
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        file.writeframes(samples.tobytes())
    return path


def _samples(tone: Tone, loudness: float) -> list[int]:
    count = round(tone.seconds * RATE_HZ)
    edge = EDGE_S * RATE_HZ
    return [
        round(
            32_767
            * loudness
            * min(1.0, at / edge, (count - at) / edge)
            * math.sin(2 * math.pi * tone.hz * at / RATE_HZ)
        )
        for at in range(count)
    ]
