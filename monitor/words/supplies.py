"""The sentences of shore power, generator and inverter."""

_CARE = "Shore and inverter power can kill: work on it is for qualified people, by the local rules."

SENTENCES: dict[str, str] = {
    # What the figures rest on.
    "supply not heard": "{supply} says nothing.",
    "supply is off": "{supply} is off.",
    "shore carries": "{amps:amps} of {limit_A:amps}, {watts:watts}.",
    "generator carries": "{watts:watts} of {rated_W:watts}, {amps:amps}.",
    "supply line": (
        "From how the voltage falls with the load: {open_V:volts} without any,"
        " and {ohm:number} V less for each ampere."
    ),
    "supply line not known": (
        "The load on {supply} has not changed enough yet to tell how its voltage follows."
    ),
    "bank helps": "At the {help_W:watts} the {bank} bank adds, down to its reserve of {reserve_pct:pct}.",
    "bank does not help": "The {bank} bank does not help.",
    "bank helps, charge unknown": "The {bank} bank helps, but its charge is unknown.",
    # What was seen.
    "alert: shore overloaded": (
        "{supply:text} gives {amps:amps} ({VA:number} VA); its limit is {limit_A:amps}, and for hours no more"
        " than {for_hours_A:amps} is common practice. A breaker counts the current, not the watts, and trips"
        " late."
    ),
    "alert: bank helps shore": (
        "{supply:text} is at its limit ({amps:amps} of {limit_A:amps}) and the {bank:text} bank makes up"
        " {help_W:watts}. Reckoned with the least it may hold, it comes down to its reserve of"
        " {reserve_pct:pct} in {reserve_s:span}, and to nothing in {empty_s:span}."
    ),
    "alert: bank helps blindly": (
        "{supply:text} is at its limit ({amps:amps} of {limit_A:amps}) and the {bank:text} bank makes up"
        " {help_W:watts}. How long it can is unknown, as its charge is."
    ),
    "alert: supply sags": (
        "{supply:text} is down to {volts:volts} of {nominal_V:volts}. Whether by our own load or by itself is"
        " not known yet."
    ),
    "alert: supply sags under our load": (
        "{supply:text} is down to {volts:volts} of {nominal_V:volts} under our load of {amps:amps}; without"
        " it there would be {open_V:volts}. Up to {most_A:amps} it stays above {least_V:volts}."
    ),
    "alert: supply is low by itself": (
        "{supply:text} is down to {volts:volts} of {nominal_V:volts}, and it is the pedestal itself that is"
        " low: without our load there would be {open_V:volts}."
    ),
    "alert: generator overloaded": (
        "{supply:text} carries {watts:watts} and {amps:amps}; for hours it may {rated_W:watts}, at most"
        " {limit_A:amps}."
    ),
    "alert: generator gives way": (
        "{supply:text} gives way under {watts:watts}: {volts:volts}, {hz:number} Hz."
    ),
    "alert: generator idles": (
        "{supply:text} carries {watts:watts}, {load_pct:pct} of its {rated_W:watts}; half to three quarters"
        " is good for it. It could do meanwhile: {jobs:text}."
    ),
    # What each rule is called, what to do, and what happens otherwise.
    "shore overloaded: name": "Shore power overloaded",
    "shore overloaded: do": (
        "Switch off the largest load, or turn the charger down. Feel for a warm plug or cable: a warm one"
        " wants less load at once. Do not reset a tripped breaker again and again. " + _CARE
    ),
    "shore overloaded: otherwise": (
        "The breaker trips, perhaps when nobody is aboard, and the bank goes down unseen; a bad plug burns."
    ),
    "bank helps shore: name": "Bank helps the shore power",
    "bank helps shore: do": "Switch off or put off a large load before the time told; charge afterwards.",
    "bank helps shore: otherwise": "The bank goes down to its cut although the boat is plugged in.",
    "supply sags: name": "Supply voltage low",
    "supply sags: do": (
        "Run fewer large loads at a time, motors above all. If it stays low, ask the marina or take another"
        " pedestal; a voltage that falls steeply with the load can be a bad, hot joint. " + _CARE
    ),
    "supply sags: otherwise": "Motors and compressors overheat, chargers drop out, a bad joint grows hot.",
    "generator overloaded: name": "Generator overloaded",
    "generator overloaded: do": (
        "Take off the largest load, or turn the charger down; then see that its frequency and its cooling"
        " water are as usual. " + _CARE
    ),
    "generator overloaded: otherwise": "It overheats, or stalls and leaves everything without power.",
    "generator idles: name": "Generator runs nearly idle",
    "generator idles: do": (
        "Give it work while it runs: charge as the battery's maker allows, heat water (it scalds: mix it at"
        " the tap). Or stop it, if the charge allows, after a short run to cool down."
    ),
    "generator idles: otherwise": "It soots up and wears, for little energy and much fuel.",
}  # fmt: skip
