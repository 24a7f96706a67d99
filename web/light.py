"""Day, dim or night: the dress of the pages, by the sun or by hand."""

from monitor.records import Snapshot

LIGHTS = ("day", "dim", "night")
BY_THE_SUN = "sun"
COOKIE = "light"
TWILIGHT_S = 40 * 60
"""Before dusk and after dawn it is dim for about as long as civil twilight lasts (common practice)."""


def chosen(cookie: str | None) -> str:
    """What the crew chose; by the sun where they chose nothing we know."""
    return cookie if cookie in LIGHTS else BY_THE_SUN


def shown(choice: str, snapshot: Snapshot) -> str:
    """The light to draw in. Where the clock cannot be trusted, dim: it blinds nobody."""
    if choice != BY_THE_SUN:
        return choice
    now_s = snapshot.utc_s
    if now_s is None or not snapshot.clock_trusted:
        return "dim"
    for dusk_s, dawn_s in snapshot.darkness:
        if dusk_s <= now_s < dawn_s:
            return "night"
        if dusk_s - TWILIGHT_S <= now_s < dawn_s + TWILIGHT_S:
            return "dim"
    return "day"
