"""Can I run it now? One load, asked with its watts and minutes."""

from dataclasses import dataclass

from monitor.estimation.run_now import run_now
from monitor.words.say import say
from monitor.words.units import fixed
from web.presentation.figures import Reader

MOST_W, MOST_MIN = 20_000.0, 24 * 60.0


@dataclass(frozen=True, slots=True)
class Asked:
    """What the crew would like to run; `dc` hangs on the bank itself."""

    watts: float
    minutes: float
    dc: bool = False


@dataclass(frozen=True, slots=True)
class Running:
    """The form as it was sent, and the answer: `can` None where nothing was asked or it is not known."""

    watts: str
    minutes: str
    dc: bool
    verdict: str
    answer: tuple[str, ...]
    can: bool | None


def running(reader: Reader, asked: Asked | None) -> Running:
    """The form, and the answer where something was asked."""
    if asked is None:
        return Running("", "", False, "", (), None)
    s = reader.snapshot
    ahead = next((e.ahead for e in s.ebbs if e.what == "energy"), None)
    found = run_now(
        asked.watts, asked.minutes, reader.settings, s.values, s.estimates, ahead, s.utc_s, dc=asked.dc
    )
    verdict = {True: "run it", False: "better not", None: "hard to say"}[found.can]
    return Running(
        _typed(asked.watts, reader),
        _typed(asked.minutes, reader),
        asked.dc,
        reader.say(verdict),
        tuple(say(r, reader.dress) for r in found.reasons),
        found.can,
    )


def _typed(value: float, reader: Reader) -> str:
    """As somebody types it: tenths where there are any."""
    return fixed(value, 0 if value == round(value) else 1, reader.dress)
