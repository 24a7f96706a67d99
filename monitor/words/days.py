"""What the days of energy rest on, how the night will be, and what came of earlier forecasts."""

SENTENCES: dict[str, str] = {
    "nobody aboard": "From the last {days:count} days {place:text} with nobody aboard, hour by hour.",
    "nobody aboard yet": (
        "From {days:count} days with people aboard: too few {place:text} with nobody aboard so far."
    ),
    "other company": "From {days:count} days with nobody aboard: too few with people aboard so far.",
    "charge at dawn": "At the next sunrise, {moment_s:clock}, over futures made of {days:count} past days.",
    "charge at its lowest": (
        "The lowest within 24 hours, about {moment_s:clock}, over futures made of {days:count} past days."
    ),
    "no dawn soon": "The sun does not rise within a day and a half here.",
    "forecast hits": "Of {n:count} forecasts followed to their end, {held:count} kept their cautious day.",
    "forecast hits too few": (
        "Only {n:count} forecasts have been followed to their end: too few to say how often they hold."
    ),
}
