"""The sentences of sources, charging plans and what can be run now."""

_LOW = "Cautious dawn {dawn_pct:pct}, lowest {lowest_pct:pct} about {lowest_s:clock}"
_PLANS = {
    "charge: run by": _LOW + ": run the {machine:text} {run_s:span}, starting by {start_s:clock}.",
    "charge: run now": _LOW + ": run the {machine:text} {run_s:span}, starting now.",
    "charge: not enough": (
        _LOW
        + ", the reserve is {reserve_pct:pct}. Nothing makes that up in time, the quiet hours kept: the"
        " {machine:text} for {run_s:span} from {start_s:clock} does most, {then_pct:pct} at dawn. Use less."
    ),
    "charge: nothing to run": (
        _LOW + ", the reserve is {reserve_pct:pct}. There is nothing to charge with before: use less."
    ),
    "charge: not needed": (
        "No need to charge today: reckoned cautiously {dawn_pct:pct} at dawn and at the lowest"
        " {lowest_pct:pct} about {lowest_s:clock}, {margin_pct:pct} above the reserve."
    ),
    "charge: charge unknown": "Whether to charge is not known, as the charge is not.",
    "charge: no forecast": "Whether to charge is not known: there is no forecast.",
}  # fmt: skip

_THROWN = "Full at {full_s:time}: about {wasted_Wh:wh} thrown away"
_HEAT = ", enough to heat {heat_L:litres} by 40 °C (72 °F)"
_MAKE = " to make {make_L:litres} of water, {make_most_L:litres} with energy recovery"
_SCALDS = " Hot water scalds within a second at 60 °C (140 °F): mix it at the tap."

SENTENCES: dict[str, str] = {
    # Must we charge today?
    **_PLANS,
    **{f"alert: {id}": text for id, text in _PLANS.items()},
    "charge today: name": "Charge today",
    "charge today: do": (
        "Run it for so long, outside the quiet hours, or use less: above all have the inverter off overnight."
        " Look at the sky first: more sun than usual may do it. Exhaust gas kills: keep it out of the cabin."
        " Charge lithium only within its maker's temperatures."
    ),
    "charge today: otherwise": (
        "The charge may fall under the reserve before the sun is up, and loads may be cut in the night."
    ),
    # The sun that a full bank turns down.
    "surplus: not known yet": "What the panels could give is not known yet.",
    "surplus: no clock": "No trusted time yet, so what the sun could give is not known.",
    "surplus: none to speak of": "No sun to speak of has been thrown away today.",
    "surplus: thrown away": _THROWN + ".",
    "surplus: heat": _THROWN + _HEAT + "." + _SCALDS,
    "surplus: make": _THROWN + ", enough" + _MAKE + ".",
    "surplus: heat or make": _THROWN + _HEAT + ", or" + _MAKE + "." + _SCALDS,
    # Can I run it now?
    "run: by the supply": (
        "{supply:text} carries the {watts:watts}: it gives {amps:amps} then, of {limit_A:amps}."
    ),
    "run: by the bank": "The {bank:text} bank carries it.",
    "run: by the bank through the inverter": (
        "The {bank:text} bank carries it through the {inverter:text} and gives {bank_W:watts} more."
    ),
    "run: by both": (
        "{supply:text} gives all its {limit_A:amps}; the {bank:text} bank makes up {bank_W:watts}, what its"
        " charging loses included."
    ),
    "run: by nobody": "No supply is live and no inverter is set: nothing can carry {watts:watts} of mains.",
    "run: over the supply": (
        "No: {supply:text} would give {amps:amps}, its limit is {limit_A:amps}, and its breaker trips. A"
        " breaker counts the current, not the watts."
    ),
    "run: over the generator": (
        "No: {supply:text} would carry {watts:watts}; for hours it may {rated_W:watts}."
    ),
    "run: over the inverter": (
        "No: the {inverter:text} would give {watts:watts}; it is rated {rated_W:watts} and switches off."
    ),
    "run: over the bank": (
        "No: the {bank:text} bank would give {amps:amps}; its limit is {limit_A:amps}, and the BMS may cut."
    ),
    "run: bank is cut off": "No: the BMS has cut the {bank:text} bank off.",
    "run: charge unknown": (
        "It takes {used_Wh:wh} from the bank. What is left then is unknown, as the charge is."
    ),
    "run: charge after": (
        "It takes {used_Wh:wh} from the bank, which likely stands at {pct:pct} then, {low_pct:pct} if"
        " reckoned cautiously."
    ),
    "run: charge after, under the reserve": (
        "It takes {used_Wh:wh} from the bank, which likely stands at {pct:pct} then. Reckoned cautiously it"
        " is {low_pct:pct}, under the reserve of {reserve_pct:pct}."
    ),
    "run: bank lasts": (
        "At this the bank comes down to its reserve in {lasts_s:span}, or cautiously in {low_s:span}."
    ),
    "run: dawn": (
        "At dawn {pct:pct} in place of {before_pct:pct}, cautiously {low_pct:pct} in place of"
        " {before_low_pct:pct}."
    ),
    "run: dawn, under the reserve": (
        "At dawn {pct:pct} in place of {before_pct:pct}; cautiously {low_pct:pct} in place of"
        " {before_low_pct:pct}, under the reserve of {reserve_pct:pct}: charge before the night."
    ),
    "run: made up by dawn": "By dawn it is made up for: {pct:pct}, {low_pct:pct} if reckoned cautiously.",
    "run: long on the breaker": (
        "For hours, no more than {most_A:amps} from {supply:text} is common practice: plugs grow hot."
    ),
    "run: inverter does not tell": "What the {inverter:text} carries already is not known and comes on top.",
    "run: a motor may not start": (
        "If it has a motor: that takes up to {times:count} times as much while it starts, and the"
        " {inverter:text} gives {most_W:watts} for a moment."
    ),
    "run: care": "Shore and inverter power can kill: work on it is for qualified people, by the local rules.",
}  # fmt: skip
