"""The sentences of the cells and the countdown to a disconnect."""

_CUTS: dict[str, str] = {
    # What is seen, and what it leads to.
    "high cell": (
        "In the {bank:text} bank {cell:text} stands at {cell_V:volts} and rises by {mV_a_min:count} mV a"
        " minute; at {limit_V:volts} the BMS cuts off charging"
    ),
    "low cell": (
        "In the {bank:text} bank {cell:text} stands at {cell_V:volts} and falls by {mV_a_min:count} mV a"
        " minute; at {limit_V:volts} the BMS cuts the bank off"
    ),
    "heat": (
        "In the {bank:text} bank {cell:text} is at {warmth_C:temp}; above {limit_C:temp} the BMS may cut"
    ),
    "cold": (
        "In the {bank:text} bank {cell:text} is at {warmth_C:temp}; below {limit_C:temp}"
        " the BMS may cut off charging"
    ),
    "charge limit": (
        "The BMS of the {bank:text} bank allows {limit_A:amps} of charging and less and less, while"
        " {current_A:amps} flow in; it may cut"
    ),
    "discharge limit": (
        "The BMS of the {bank:text} bank allows {limit_A:amps} to be drawn and less and less, while"
        " {current_A:amps} flow out; it may cut"
    ),
    "pre-alarm, empty": (
        "A cell of the {bank:text} bank is down to {cell_V:volts} and its BMS still gives its pre-alarm,"
        " though it is being charged; without the charge it may cut"
    ),
    "pre-alarm": "The BMS of the {bank:text} bank gives its pre-alarm; it may cut",
}

_WHEN = {"": " in about {in_s:span}.", ", now": " any moment."}
_WITH = {"": "", ", engine": " The alternator gives {alternator_A:amps}: a cut under load can destroy it."}

SENTENCES: dict[str, str] = {
    # Why the countdown stands where it stands.
    "cut: unknown": (
        "The cells of the {bank:text} bank are not heard, so nobody can say when its BMS will cut it off."
    ),
    "cut: none in sight": "Nothing leads to a cut of the {bank:text} bank within a day.",
    "cut: charger holds": (
        "The charger holds its voltage: {cell:text} of the {bank:text} bank levels off at {cell_V:volts},"
        " under its limit of {limit_V:volts}."
    ),
    "cut: charge left": "With {watts:watts} drawn, the charge left in the {bank:text} bank lasts that long.",
    "cut: open": "The BMS has cut the {bank:text} bank off.",
    **{f"cut: {id}": f"{seen}." for id, seen in _CUTS.items()},
    "spread: now": "{high:text} is the highest and {low:text} the lowest of the {bank:text} bank.",
    "spread: unknown": "The cells of the {bank:text} bank are not heard.",
    # What was seen.
    **{
        f"alert: cut: {id}{at}{by}": f"{seen}{when}{more}"
        for id, seen in _CUTS.items()
        for at, when in _WHEN.items()
        for by, more in _WITH.items()
    },
    "alert: cut: open, now": "The BMS has cut the {bank:text} bank off.",
    "alert: cut: open, now, engine": "The BMS has cut the {bank:text} bank off while the engine charges.",
    "alert: no cut near": "No cut of the {bank:text} bank is near.",
    "alert: cut unknown": "The cells of the {bank:text} bank are not heard.",
    "alert: cut off": "The BMS has cut the {bank:text} bank off.",
    "alert: cut off, charge": (
        "The BMS has cut the {bank:text} bank off; {current_A:amps} were flowing in just before."
    ),
    "alert: cut off, discharge": (
        "The BMS has cut the {bank:text} bank off; {current_A:amps} were being drawn just before."
    ),
    "alert: cold charging": (
        "The {bank:text} bank is charged with {current_A:amps} while {cell:text} is at {warmth_C:temp};"
        " it must not be charged below {limit_C:temp}, and a sensor may be off by two degrees."
    ),
    "alert: cell temperature unknown": "No temperature is heard from the cells of the {bank:text} bank.",
    "alert: hot cells": (
        "In the {bank:text} bank {cell:text} is at {warmth_C:temp}; above {limit_C:temp} the BMS may cut."
    ),
    "alert: one cell hot": (
        "In the {bank:text} bank {cell:text} is at {warmth_C:temp}, well hotter than the others: perhaps a"
        " loose joint, perhaps a failing cell."
    ),
    "alert: cells not seen near full or empty": (
        "The {bank:text} bank has not been seen near full, near empty or long at rest yet."
    ),
    "alert: cells together": "The cells of the {bank:text} bank stand together, near full and near empty.",
    "alert: cells apart at top, not enough seen": (
        "Near full {high:text} of the {bank:text} bank stands {mV:count} mV over {low:text}. Not enough seen"
        " yet to say more: near empty it would show whether balance or capacity is the matter."
    ),
    "alert: cells apart at bottom, not enough seen": (
        "Near empty {low:text} of the {bank:text} bank stands {mV:count} mV under {high:text}. Not enough"
        " seen yet to say more: near full it would show whether balance or capacity is the matter."
    ),
    "alert: cells apart at rest, not enough seen": (
        "At rest {high:text} of the {bank:text} bank stands {mV:count} mV over {low:text}. Not enough seen"
        " yet to say more: near full and near empty it would show what is the matter."
    ),
    "alert: cells apart at rest alone": (
        "At rest {high:text} of the {bank:text} bank stands {mV:count} mV over {low:text}, though near full"
        " and near empty all stood together: perhaps a joint, or a reading that is off."
    ),
    "alert: cell of less capacity": (
        "{cell:text} of the {bank:text} bank is the highest near full, by {top_mV:count} mV, and the lowest"
        " near empty, by {bottom_mV:count} mV: it holds less than the others."
    ),
    "alert: cell empties first": (
        "{cell:text} of the {bank:text} bank is the lowest near empty, by {bottom_mV:count} mV, while all"
        " fill together: it holds less than the others."
    ),
    "alert: cell out of balance": (
        "{cell:text} of the {bank:text} bank stands on the same side near full, by {top_mV:count} mV, and"
        " near empty, by {bottom_mV:count} mV: it is out of balance."
    ),
    "alert: cells apart at the top alone": (
        "{cell:text} of the {bank:text} bank is the highest near full, by {top_mV:count} mV; near empty it"
        " is not the lowest: it is out of balance."
    ),
    "alert: charge above limit": (
        "{current_A:amps} flow into the {bank:text} bank; its limit is {limit_A:amps}."
    ),
    "alert: cell above limit": (
        "In the {bank:text} bank {cell:text} is charged to {cell_V:volts}; its limit is {limit_V:volts}."
    ),
    # What each rule is called, what to do, and what happens otherwise.
    "cut coming: name": "The BMS may cut off",
    "cut coming: do": (
        "Charging: take the alternator's load off by its regulator or field, as its maker says, then reduce"
        " revolutions; keep steerage, and never stop the engine of a boat under way. Turn off shore and"
        " generator charging, then the sun by its controller. Discharging: shed loads, the largest first"
        " (inverter and heating, watermaker, cold boxes), and start a charge source if cells are not cold."
        " Lights, radio and instruments on the buffer battery live on for a while. Never open a battery"
        " switch, never reset or bridge a BMS."
    ),
    "cut coming: otherwise": (
        "The bank goes off the boat at once. Under charge, a running alternator may be destroyed, and what"
        " hangs on the bus with it; without a buffer battery the boat is dark."
    ),
    "cut off: name": "The BMS has cut the bank off",
    "cut off: do": (
        "Keep the boat steered. Keep the engine's alternator unloaded by its regulator or field, as its maker"
        " says; never stop the engine of a boat under way. Navigation runs on the buffer battery: shed what"
        " it can spare. Take away the cause (charging, loads, heat or cold) and let the BMS come back by"
        " itself, as its maker says. Never bridge a BMS and never force it; lithium work is for qualified"
        " people."
    ),
    "cut off: otherwise": (
        "The buffer battery runs down, and lights and instruments with it; an alternator that charges into"
        " nothing can harm itself and all that hangs on the bus."
    ),
    "cold charging: name": "Charged in the cold",
    "cold charging: do": (
        "Stop charging: take the alternator's load off by its regulator or field, as its maker says, and turn"
        " off the other chargers. Warm the battery's space gently; drawing current is allowed meanwhile, as"
        " its maker says. Never put a heater or flame to the cells."
    ),
    "cold charging: otherwise": (
        "Charging frozen lithium cells harms them for good, without a sign, and can make them dangerous."
    ),
    "hot cells: name": "Cells hot",
    "hot cells: do": (
        "Lower the current: charge less, draw less, and give the battery's space air. If one cell alone is"
        " hot, keep hands and tools off its joints and have a qualified person look at them. Smell, hissing"
        " or smoke: keep out of the fumes, make ready to leave the space, and call for help."
    ),
    "hot cells: otherwise": "The BMS may cut; heat ages lithium cells, and a failing one can catch fire.",
    "cells apart: name": "Cells apart",
    "cells apart: do": (
        "Charge until the bank is full and let the balancer work for some hours. If one stays apart, have"
        " a qualified person look at its joints and its capacity."
    ),
    "cells apart: otherwise": "The one cell makes the BMS cut, early when full and early when empty.",
    "charge above limit: name": "Charged beyond the limit",
    "charge above limit: do": (
        "Lower the charging: the alternator by its regulator, as its maker says, or fewer chargers at once;"
        " then set them to what the maker of the battery allows."
    ),
    "charge above limit: otherwise": "The cells age or are harmed, and the BMS may cut under load.",
}
