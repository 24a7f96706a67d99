"""The sentences of days of water and saving it."""

_PLANS = {
    "water plan: unknown": "When to fetch water is not known, as what is left is not.",
    "water plan: leave by": (
        "Leave for water by {leave_s:date}, {leave_s:time}: reckoned cautiously the reserve is reached in"
        " {cautious_days:days}, and fetching water takes {run_s:span}."
        " {refill_L:litres} would fill the tanks."
    ),
    "water plan: leave now": (
        "Leave for water now: reckoned cautiously the reserve is reached in {cautious_days:days}, and"
        " fetching water takes {run_s:span}. {refill_L:litres} would fill the tanks. Until then use less."
    ),
    "water plan: no need to leave": (
        "No need to leave for water: reckoned cautiously it lasts for more than a month. {refill_L:litres}"
        " would fill the tanks."
    ),
}
_LEAK = (
    " A leak takes {leak_L:litres} a day, which is counted: it costs {cost_s:span}. Find it first: shut the"
    " pump off while nobody draws."
)

SENTENCES: dict[str, str] = {
    **_PLANS,
    **{f"{id}, leaking": text + _LEAK for id, text in _PLANS.items() if id != "water plan: unknown"},
    # Ways of using less, by the name of the step.
    "ration: normal": "Normal: short showers, nothing wasted.",
    "ration: modest": "Modest: wet, tap off, soap, rinse; dishes in one bowl.",
    "ration: careful": "Careful: wash in the sea and rinse fresh; dishes in salt water, rinsed fresh.",
    "ration: miserly": "Miserly: the pump off and the foot pump only; a spray bottle in place of a rinse.",
    "ration: survival": (
        "Survival: drinking and cooking only. Everybody still drinks 2.5 L a day, more in the heat: do not"
        " save on that."
    ),
    "water: sealed": "{sealed_L:litres} of sealed emergency water stand apart and are not counted.",
    # How use goes with the heat, and what came of earlier forecasts.
    "water heat": "So much more is used for each degree that the air is warmer, by the days so far.",
    "water heat unknown": "No thermometer of the air is heard: heat is not reckoned with.",
    "water hits": "Of {n:count} forecasts followed to their end, {held:count} kept their cautious day.",
    "water hits too few": (
        "Only {n:count} forecasts have been followed to their end: too few to say how often they hold."
    ),
}
