"""How long the water lasts: who uses it, how far it reaches, and what came of the earlier forecasts.

The desk of water owns one of these and hands it what was used and what is left; the watch of the plan tells
it who is aboard, how warm it is and what leaks away.
"""

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from monitor.estimation.bands import BAND_90
from monitor.estimation.forecast import Forecast
from monitor.estimation.passage import thinned
from monitor.estimation.scoring import EVERY_S, HORIZON_DAYS, Hits, Outcome, Scores
from monitor.estimation.water_history import WaterUse
from monitor.estimation.water_reach import Floats, Reach, reach
from monitor.records import Course, Estimate, Event, EventKind, Mode
from monitor.settings import Settings

_SHOWN = int(HORIZON_DAYS) * 24 + 1


class WaterAhead:
    """Owns the hours of use, the reach and the forecast that is shown, and the forecasts' scores."""

    def __init__(self, settings: Settings) -> None:
        self._usual_L = settings.usual.water_L_a_head_a_day
        self._settings = settings
        self.use = WaterUse(settings.boat.crew)
        self.reach: Reach | None = None
        """None while what is left is unknown."""
        self.left_L = self.capacity_L = 0.0
        """When the reach was drawn: usable litres left, and when all the tanks that count are full."""
        self.drawn: Forecast | None = None
        """The reach as days until the reserve, to the horizon of ten days."""
        self._scores = Scores()
        self._kept_at_s = float("-inf")
        self._last: tuple[float, Mode] | None = None
        """How well what is left was known then [L], and the mode."""

    @property
    def reserve_L(self) -> float:
        """What is kept back for those who are aboard now."""
        return self._settings.water_reserve_for_L(self.use.heads)

    @property
    def above_L(self) -> float:
        """What lay above the reserve when the reach was drawn."""
        return self.left_L - self.reserve_L

    @property
    def free_L(self) -> float:
        """What the tanks would have taken then."""
        return max(0.0, self.capacity_L - self.left_L)

    # ---- a minute

    def minute(self, utc_s: float, used_L: float | None, left_L: float | None) -> Iterator[Event]:
        """A minute that ends now. What came of the forecasts it settles, for the log."""
        above_L = None if left_L is None else left_L - self.reserve_L
        for outcome in self._scores.see(utc_s, used_L, above_L):
            yield _told(outcome)

    def hits(self) -> Hits:
        """How often the cautious day has held, by what was then used; fills do not matter."""
        return self._scores.hits(False)

    # ---- the forecast

    def draw(
        self, utc_s: float, at_s: float, left: Estimate | None, capacity_L: float, mode: Mode, boot: int
    ) -> Iterator[Event]:
        """Draw anew from what is left; every six hours the forecast is kept and followed."""
        if left is None or left.value is None or left.low is None or left.high is None:
            self.reach = self.drawn = self._last = None
            return
        self.left_L, self.capacity_L = left.value, capacity_L
        self._last = (left.high - left.low) / (2 * BAND_90), mode
        self.again(utc_s)
        drawn = self.drawn
        if drawn is None or at_s < self._kept_at_s + EVERY_S:
            return
        self._kept_at_s = at_s
        self._scores.promise(utc_s, drawn.cautious_days, drawn.likely_days, self.above_L, False)
        facts = {
            "left_L": round(left.value, 1),
            "likely_days": round(drawn.likely_days, 3),
            "cautious_days": round(drawn.cautious_days, 3),
            "beyond": drawn.beyond,
            "place": mode.place,
            "people": mode.people,
            "heads": self.use.heads,
            "leak_L_per_h": round(self.use.leak_L_per_h, 3),
            "course": thinned(drawn.course),
        }
        yield Event(EventKind.FORECAST, "water", boot, at_s, None, facts)

    def again(self, utc_s: float) -> None:
        """Draw from what was left last, as when somebody came aboard."""
        if self._last is None:
            return
        sd_L, mode = self._last
        self.reach = reach(utc_s, sd_L, self.use, mode.place, mode.people, self._usual_L, seed=int(utc_s) + 1)
        self.drawn = self._shown(self.reach)

    def _shown(self, far: Reach) -> Forecast:
        """Days until the reserve, and the course of what is left."""
        cautious, likely, late = (far.days(self.above_L, u) for u in (far.cautious, far.likely, far.hopeful))

        def left(used: Floats) -> tuple[float, ...]:
            return tuple(
                np.clip(self.left_L - used[:_SHOWN], 0.0, max(self.capacity_L, self.left_L)).tolist()
            )

        return Forecast(
            min(likely, HORIZON_DAYS),
            min(cautious, HORIZON_DAYS),
            late if late <= HORIZON_DAYS else None,
            likely > HORIZON_DAYS,
            Course(
                tuple(far.utc_s[:_SHOWN].tolist()), left(far.cautious), left(far.likely), left(far.hopeful)
            ),
            far.reason,
        )

    def new_boot(self) -> None:
        """Elapsed time began anew."""
        self._kept_at_s = float("-inf")

    # ---- restarts

    def state(self) -> dict[str, Any]:
        return {"heads": self.use.heads, "scores": self._scores.state()}

    def restore(self, state: Mapping[str, Any]) -> None:
        """The inverse of `state`."""
        self._scores.restore(state["scores"])
        self.use.heads = int(state["heads"])


def _told(found: Outcome) -> Event:
    """For the log. `beyond`: not so much had been used when the forecast was settled."""
    facts = {
        "made_at": round(found.made_at_s),
        "cautious_days": round(found.cautious_days, 2),
        "likely_days": round(found.likely_days, 2),
        "truth_days": None if found.truth_days is None else round(found.truth_days, 2),
        "beyond": found.truth_days is None,
        "held": found.held,
    }
    return Event(EventKind.OUTCOME, "water", -1, 0.0, None, facts)
