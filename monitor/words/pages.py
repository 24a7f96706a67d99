"""What the pages say of their own accord."""

SENTENCES: dict[str, str] = {
    # The first lines of Ahead.
    "dawn ahead": (
        "At dawn, {dawn:clock}, the {bank} bank will stand near {likely:pct}, hardly lower than {low:pct}."
    ),
    "dawn unknown": "How the {bank} bank will stand at dawn is unknown.",
    "lowest ahead": "Lowest before {until:clock}: {low:pct}, about {at:time}.",
    "all calm": "Nothing to do yet.",
    "all calm, as far as heard": "Nothing to do yet, as far as is heard.",
    "charge by": "Charge by {by:text} at the latest.",
    "charge now": "Charge now: the {bank} bank may already be at its reserve.",
    "water by": "Take on water by {by:text} at the latest.",
    "water now": "Take on water now: the reserve may already be reached.",
    "charge in": "Charge within {days:days}.",
    "water in": "Take on water within {days:days}.",
    "no need to charge": "No need to charge within ten days at this pace.",
    "no need for water": "No need for water within ten days at this pace.",
    "fill it once": "Charge the {bank} bank until it is full: from then on its charge can be told.",
    "what to do is unknown": "What to do is unknown until days left are known.",
    "no leak suspected": "none suspected",
    "not estimated": "There is no estimate yet.",
    "nothing bound": "Nothing is bound to this yet: the settings name no {what}.",
    # Energy.
    "charge with its band": (
        "The {bank} bank is at {value:pct} ({low} to {high}), last full {since_s:span} ago."
    ),
    "lasts": "It lasts till {likely}, {cautious} if cautious.",
    "lasts, beyond": "It lasts ten days and more.",
    "lasts, likely beyond": "It lasts ten days and more, till {cautious} if cautious.",
    "nothing charged": "If nothing charged from now on",
    "shore failed": "If the shore supply failed now",
    "lasts uncharged": "{unless}: till {likely}, {cautious} if cautious.",
    "lasts uncharged, beyond": "{unless}: ten days and more all the same.",
    "lasts uncharged, likely beyond": "{unless}: ten days and more, till {cautious} if cautious.",
    "lives": "{low_s:span} to {likely_s:span}",
    "fan told": (
        "Ink: what the bank held. Thin pencil: what was forecast on each of the last {days:count} evenings,"
        " dotted the cautious course. Hatched: nine courses in ten from now on. Dots on top: full charges."
    ),
    "run it": "Yes, as things stand.",
    "better not": "Better not.",
    "hard to say": "That cannot be said before the charge is known.",
    "no cut in sight": "none in sight",
    "supply unheard": "Nothing is heard of it.",
    # The clock and the watch itself.
    "clock not known": "The clock is not known: no dates can be told. Days left are right all the same.",
    "clock not confirmed": (
        "The clock is not confirmed: hours and dates may be wrong. Days left are right all the same."
    ),
    "demo": "Simulated: {what}. No boat is being watched.",
    "not on the card": "This alert is not on the card yet.",
    # Silence.
    "source silent": "{source} is silent: last heard {ago:span} ago.",
    "source never heard": "{source} has not been heard yet.",
    "source trouble": "{source} is silent: {trouble}.",
    "silent at rest": "Silent, as they are when at rest or unplugged: {subjects}.",
    "silent at rest too": "Silent too, as they are when at rest or unplugged: {subjects}.",
    "readings silent": "{subject}: {quantities} silent for {ago:span}.",
    # Last night.
    "night used": "The night took {used:wh}.",
    "night used and made": "The night took {used:wh} and made {made:wh}.",
    "night use unknown": "What the night took is unknown.",
    "night charge": "The {bank} bank went from {dusk:pct} at dusk to {dawn:pct} at dawn.",
    "night charge unknown": "Its charge is unknown until the first full.",
    "night lowest": "The lowest was {lowest:volts} on the {bank} bank.",
    "night explained": "{explained:wh} of it is explained, {unexplained:wh} is not.",
    "night water": "{water:litres} of water went.",
    "night pump": "The pump started {starts:count} times.",
    "night pump once": "The pump started once.",
    "night pump never": "The pump did not start.",
    "night missing": "For {missing:span} of the night nothing was heard of the house bank.",
    "night made estimated": "What was made is an estimate: no instrument measures every charger.",
    "night under way": "The night is not over: this is what stands so far.",
    "no night yet": "No night has been watched yet. The first one is told after its dawn.",
    "no such night": "No night of that date is in the ledger.",
    "pump runs": "{runs:count} runs",
    # What a number rests on.
    "rests on reading": "Read from an instrument.",
    "no such figure": "No figure of that name is known.",
    # Errors.
    "page missing": "There is no such page.",
    "page failed": "This page could not be drawn. The watch itself goes on.",
    "refused host": (
        "This address is not one the watch answers to. Open it by its IP number or its short name."
    ),
    "refused origin": "This came from another site and was refused.",
    "refused body": "This was more than a form can hold and was refused.",
    "refused wish": "This was not done: {why}.",
    "refused form": "The form was not filled in as expected: {what}.",
    "no record": "The record cannot be read just now.",
    "no channel": "Nothing of that name is in the record.",
}
