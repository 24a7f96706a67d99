"""The sentences of the lead bank behind its converter."""

_HANGS = "{watts:watts} hang on the {bank:text} bank now"
_LIVES = "it likely lasts {likely_s:span}, {low_s:span} if it is worse than it seems"
_CAUTION = "Lead batteries give off explosive gas and can deliver a fierce current: no sparks, no bare tools."

SENTENCES: dict[str, str] = {
    # What the figures rest on.
    "buffer on float": (
        "A charger holds the voltage of the {bank:text} bank: on float it tells nothing of the charge."
    ),
    "buffer not heard": "Voltage or current of the {bank:text} bank is not heard.",
    "buffer not rested": (
        "Only four hours with less than {most_A:amps} tell something; so far it has had {rest_s:span}."
    ),
    "buffer rested": (
        "Read off the voltage after {rest_s:span} of rest, by a common table; good to a sixth of the charge."
    ),
    "buffer shows no resistance": (
        "Not known: it shows only in steps of its own load while no charger holds the voltage."
    ),
    "buffer resistance learning": (
        "By {steps:count} steps of its load; what is usual for it is yet to be learned."
    ),
    "buffer resistance": (
        "By {steps:count} steps of its load: {rise_pct:number} % over its own first weeks,"
        " {yearly_pct:number} % a year."
    ),
    "lowest of the night": "The lowest of the {bank:text} bank was at {lowest_s:clock}.",
    "buffer saw no night yet": "No night of the {bank:text} bank has been seen yet.",
    "buffer knows no night": "No trusted time yet, so no night is known.",
    "buffer would live": (
        _HANGS
        + ". If the house side opened now it would carry that so long down to {end_V:volts}, where a lead"
        " battery begins to be harmed. Four fifths of the label are counted, as its health is not known; the"
        " most is what a good one gives until it is empty."
    ),
    "buffer gives": (
        "It carries {watts:watts} alone now, so long down to {end_V:volts}: by its label, what it has given"
        " and how its voltage stands. The most is until it is empty."
    ),
    "buffer load unknown": "It is not known what hangs on the {bank:text} bank: its meters are silent.",
    "nothing hangs on the buffer": "Nothing to speak of hangs on the {bank:text} bank.",
    # The rehearsal.
    "rehearsal: measured": (
        _HANGS
        + ", measured over {minutes:count} minutes. If the house side opened, "
        + _LIVES
        + ". That is down to {end_V:volts} under load: further, it would be harmed."
    ),
    "rehearsal: by the settings": (
        "No meter tells what hangs on the {bank:text} bank; its loads together take {watts:watts}."
        " If the house side opened, " + _LIVES + ", down to {end_V:volts} under load."
    ),
    "rehearsal: load unknown": (
        "It is not known what hangs on the {bank:text} bank: no meter tells, and no loads are named."
    ),
    "rehearsal: no load": "Nothing to speak of hangs on the {bank:text} bank now.",
    # What was seen.
    "alert: converter lost": (
        "The {converter:text} no longer feeds the {bank:text} bank ({voltage_V:volts}), though the house side"
        " is well. The bank carries its loads alone: " + _LIVES + "."
    ),
    "alert: converter at limit": (
        "The {converter:text} gives all it can, {given_A:amps}, and the {bank:text} bank sags to"
        " {voltage_V:volts} all the same."
    ),
    "alert: converter gives too little": (
        "The {converter:text} gives {given_A:amps} of its {rated_A:amps}, and the {bank:text} bank sags to"
        " {voltage_V:volts}: it may be hot, or its cable or set-point poor."
    ),
    "alert: buffer low": (
        "The {bank:text} bank is down to {voltage_V:volts} (limit {limit_V:volts}). With what hangs on it, "
        + _LIVES
        + "."
    ),
    "alert: buffer resistance up": (
        "The resistance of the {bank:text} bank is {mohm:number} mΩ, {rise_pct:count} % over that of"
        " its first weeks."
    ),
    "alert: buffer rests low": (
        "After its latest full charge and a true rest the {bank:text} bank stood at {rested_V:volts};"
        " a good one stands at 12.6 V, or twice that with twice the cells."
    ),
    # What each rule is called, what to do, and what happens otherwise.
    "converter lost: name": "Converter lost",
    "converter lost: do": (
        "Shed what can wait, the last of the rehearsal's order first. Then look at the converter's switch,"
        " fuse and plugs, and feel whether it is hot; let it cool before it is tried again. " + _CAUTION
    ),
    "converter lost: otherwise": "Lights, radio and instruments go dark when the bank is empty.",
    "converter at limit: name": "Converter at its limit",
    "converter at limit: do": (
        "Switch off something that hangs on it, and give it air: hot converters give less. If it happens"
        " often, it is too small for its loads."
    ),
    "converter at limit: otherwise": "The bank makes up the rest and runs down.",
    "buffer low: name": "Buffer bank low",
    "buffer low: do": (
        "Keep what the boat's safety needs and shed the rest; get a charger or the converter to feed it"
        " again. Have hand-held lights and radio ready."
    ),
    "buffer low: otherwise": "Lights, radio and instruments go dark, and the battery is harmed.",
    "buffer weak: name": "Buffer bank weak",
    "buffer weak: do": (
        "Tighten and clean its terminals, charge it until it is full, and have it tested or renewed before it"
        " is needed. " + _CAUTION
    ),
    "buffer weak: otherwise": "In a blackout it may carry its loads for far less time than its label says.",
}
