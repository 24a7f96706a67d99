"""The line on waking, the line at each change of watch, and what guests are told, put together of clauses."""

SENTENCES: dict[str, str] = {
    "line: morning": "{parts:text}.",
    "line: handover": "{parts:text}.",
    # What there is.
    "line: charge": "{bank:text} bank at {low_pct:count} to {high_pct:pct}",
    "line: charge unknown": "{bank:text} bank: charge unknown",
    "line: used by": "{used_Wh:wh} used overnight, {most_Wh:wh} of it by the {most:text}",
    "line: used": "{used_Wh:wh} used overnight",
    "line: use unknown": "the night's use is not known",
    "line: litres": "{litres:litres} of water",
    "line: starts": "{starts:count} pump starts",
    "line: one start": "one pump start",
    "line: no start": "no pump start",
    "line: full by": "the sun may fill it about {full_s:time}",
    "line: not full": "the sun is not likely to fill it today",
    "line: must charge": "charge today: {source:text}, {run_s:span}",
    "line: must charge, or save": "charge today, or use less",
    "line: no charging": "no need to charge today",
    "line: plan unknown": "whether to charge is not known",
    "line: alert": "{alert:text}",
    "line: alerts": "{alert:text}, and {more:count} more",
    "line: no alert": "no alert is open",
    # The watch.
    "line: mode": "{place:text}",
    "line: going in": "{net_W:watts} going in",
    "line: going out": "{net_W:watts} going out",
    "line: dawn": "cautious low at dawn {low_pct:pct}",
    "line: water days": "water for {cautious_days:days}",
    "line: water unknown": "days of water not known",
    "line: pump on": "the {pump:text} runs",
    "line: pump off": "the {pump:text} rests",
    # Guests.
    "line: guests water": "About {litres:litres} of water a day for each of {heads:count}.",
    "line: guests supply": (
        "{supply:text} gives {limit_A:amps}; {spare_W:watts} are to spare now. More trips its breaker."
    ),
    "line: guests inverter": (
        "The {inverter:text} carries {rated_W:watts}; {spare_W:watts} are to spare now. Plug in nothing that"
        " takes more, and ask before anything that heats."
    ),
    "line: guests shower": "A shower of two minutes takes {shower_L:litres}.",
    "line: guests heads": "Nothing goes into the heads but what you have eaten first, and their own paper.",
    "line: guests call": "If anything sounds, smells or leaks, wake whoever has the watch.",
}
