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
    "shore failed": (
        "If the shore supply failed now: until {likely_s:clock}, and nine times in ten until "
        "{cautious_s:clock} at least."
    ),
    "shore failed, long": (
        "If the shore supply failed now: beyond ten days, and nine times in ten until {cautious_s:date} "
        "at least."
    ),
    "no charging": (
        "With no charging from now on: until {likely_s:clock}, and nine times in ten until "
        "{cautious_s:clock} at least."
    ),
    "forecast hits": "Of {n:count} forecasts followed to their end, {held:count} kept their cautious day.",
    "forecast hits too few": (
        "Only {n:count} forecasts have been followed to their end: too few to say how often they hold."
    ),
}
