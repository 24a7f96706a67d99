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
    "lasts": "It likely lasts till {likely}, at the least till {cautious}.",
    "lasts, beyond": "It lasts ten days and more.",
    "lasts, likely beyond": "It likely lasts ten days and more, at the least till {cautious}.",
    "nothing charged": "If nothing charged from now on",
    "shore failed": "If the shore supply failed now",
    "lasts uncharged": "{unless}: likely till {likely}, at the least till {cautious}.",
    "lasts uncharged, beyond": "{unless}: ten days and more all the same.",
    "lasts uncharged, likely beyond": "{unless}: likely ten days and more, at the least till {cautious}.",
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
    # Water.
    "water left": "{left:litres} of fresh water are left.",
    "water left with its band": "{left:litres} of fresh water are left ({low} to {high}).",
    "no tank named": "The settings name no tank: how much water is left, and for how long, is not known.",
    "no pump named": "The settings name no pump: without one that is heard no leak can be judged.",
    "water left unknown": "How much fresh water is left is unknown: dip the tanks.",
    "leave for water by": "Leave for water by {by:text} at the latest.",
    "leave for water now": "Leave for water now, or save.",
    "pump found": "Suspected at the {pump}: {verdict}.",
    "no water plan": "What saving would give is not known yet.",
    "sealed apart": "Sealed emergency water: {sealed:litres}, apart, and in none of these days. Leave it so.",
    "sealed none": "No sealed emergency water is named in the settings: carry some, apart from the tanks.",
    "gains": "{gained:days} more",
    "usable of": "Of {usable:litres} usable.",
    "usable of, bottom": "Of {usable:litres} usable, above {bottom:litres} that the pump cannot reach.",
    "tank isolated": "Its valve is said to be shut.",
    "tank doubtful": "Its water is not to be counted on: kept out of the days left.",
    "water age": "Its water is {mean} old.",
    "water age mixed": "Its water is {mean} old on average, the oldest {oldest}.",
    "water age unknown": "How old its water is, is not known.",
    "water from": "Last filled from {source}.",
    "water from unknown": "Nobody has said where the last fill came from.",
    "water treated": "Treated.",
    "water untreated": "Not treated.",
    "water treatment unknown": "Whether it was treated is not known.",
    "fill treated True": "treated",
    "fill treated False": "not treated",
    "filling now": "Filling the {tank} tank",
    "filling: stop now": "stop now",
    "pump verdict": "{verdict}.",
    "pump not judged": "Not judged yet.",
    "verdict sure": "{sure} in 100 sure",
    "leak loses": "About {rate}{band}: {a_day:litres} a day.",
    "leak costs": "That costs {cost:days} of water.",
    "bound": "Any leak is below {bound:rate}. {why}",
    "bound withheld": "How tight it is cannot be told now. {why}",
    "one refill": "{seconds} s, {litres:litres}",
    "strip told": "{kinds}; {litres:litres} in all.",
    "strip empty": "No run in this stretch.",
    "strip without clock": "The time is not known: the pump's runs cannot be placed in the day.",
    "look closer": "Look closer: {when}",
    "rested before": "rested {rest:span}",
    "kind: draw": "draw",
    "kind: lone refill": "lone refill",
    "kind: long run": "long run",
    "kind: run of unknown end": "end not known",
    "rests drawn": (
        "How long the pump had rested before each start since {since}. Rings: {lone:count} lone refills."
        " Arrows: {ended:count} rests that a draw ended and that would have gone on. To the right: the leak"
        " that would start the pump so often, {drawdown} a refill."
    ),
    "rests drawn with band": (
        "How long the pump had rested before each start since {since}. Rings: {lone:count} lone refills,"
        " {inside:count} of them in the hatched band, where a leak of {leak} puts them. Arrows: {ended:count}"
        " rests that a draw ended. To the right: the leak that would start the pump so often, {drawdown} a"
        " refill."
    ),
    "guided under way": "Guided test of the {pump}",
    "guided concluded": "What the guided test of the {pump} found",
    "guided waits": "{left:span} still to wait.",
    "guided waits until": "Until {until}.",
    "guided waited": "The {whole:span} are over.",
    "watermaker runs": "running",
    "watermaker rests": "at rest",
    "watermaker unheard": "not heard",
    "due in": "in {left}",
    "overdue": "due now",
    "due unknown": "pace not known",
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
    "night use unknown": "What the night took is unknown.",
    "night charge": "The {bank} bank went from {dusk:pct} at dusk to {dawn:pct} at dawn.",
    "night charge unknown": "Its charge is unknown until the first full.",
    "night lowest": "The lowest was {lowest:volts} on the {bank} bank.",
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
