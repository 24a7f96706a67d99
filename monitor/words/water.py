"""Sentences of water: tanks and the leak judge."""

SENTENCES = {
    "tank level": "From the tank's sender.",
    "tank never heard": "The tank's sender has not been heard.",
    "tank held for heel": "Held while the boat heels; {pumped_L:litres} pumped since.",
    "tank held for slosh": "Held while the water swings; {pumped_L:litres} pumped since.",
    "tank sender silent": "The sender has been silent for {silent_s:span}; {pumped_L:litres} pumped since.",
    "tank sender stuck": (
        "The sender has not moved while {pumped_L:litres} were pumped: stuck, or the water comes from"
        " elsewhere. Dip the tank."
    ),
    "leak suspected": (
        "Leak suspected: the pump refilled {refills:count} times with nobody drawing."
        " About {leak_L_per_h:rate} ({low_L_per_h:rate} to {high_L_per_h:rate}),"
        " {leak_L_per_day:litres} a day."
    ),
    "leak by its gauge": (
        "Leak suspected: the pressure falls while the pump rests and nobody draws."
        " About {leak_L_per_h:rate} ({low_L_per_h:rate} to {high_L_per_h:rate}),"
        " {leak_L_per_day:litres} a day."
    ),
    "tight": (
        "Tight: any leak is below {bound_L_per_h:rate}, by the pump's longest rest, if it was switched on."
    ),
    "tight to within": "By the pump's longest rest in eighteen hours, if it was switched on.",
    "leak unknown after some refills": (
        "Not enough known yet: {refills:count} refills with nobody drawing, too few to call a leak."
    ),
    "leak unknown while a heater may be cooling": (
        "Not enough known yet: a water heater whose temperature is not known may be cooling, which"
        " starts the pump without a leak."
    ),
    "leak unknown without a long rest": "Not enough known yet: the pump has not rested for long enough.",
}
