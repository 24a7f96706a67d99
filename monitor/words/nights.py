"""What is said of a night, of any other span, and of the loads that were learned from them."""

SENTENCES: dict[str, str] = {
    # The first sentence: what it took, against what is usual, what is not explained, what has changed.
    "night: first": "{took}{unexplained}{changed}.",
    "night: more": "{used}, {more} more than your usual night{where}",
    "night: less": "{used}, {less} less than your usual night{where}",
    "night: as usual": "{used}, about as much as your usual night{where}",
    "night: usual unknown": "{used} used; what your nights{where} usually take is not known yet",
    "night: at least": "At least {used} used: for {missing:span} nothing was heard, so no comparison is made",
    "night: so far": "{used} used so far",
    "night: unexplained": ", of which {unexplained} ({share:pct}) is not explained",
    "night: changed": "; {what}",
    "night: changed too": "Changed, too: {what}.",
    "night: made": "{made} made: {net} net.",
    "night: made nothing": "Nothing was made.",
    "night: usual water": "Usually it is {usual:litres}.",
    "night: nothing heard": "Nothing was heard of the house bank in this span: nothing of it can be told.",
    "span: took": "{used} used in {length}, {a_day} a day",
    "span: took little": "{used} used in {length}",
    "span: at least": "At least {used} used in {length}: for {missing:span} nothing was heard",
    "span: missing": "For {missing:span} of it nothing was heard of the house bank.",
    "span: not told apart": "In so long a span the loads are not told apart: ask for two days or less.",
    # What was not as usual, each a clause of its own.
    "changed: ran longer": "{name} ran {more:pct} longer",
    "changed: ran less": "{name} ran {less:pct} less",
    "changed: took more": "{name} took {Wh:wh} more",
    "changed: took less": "{name} took {Wh:wh} less",
    "changed: new": "{name} is new with {Wh:wh}",
    "changed: missing": "{name} did not run",
    "changed: standing more": "the standing load was {W:watts} higher",
    "changed: standing less": "the standing load was {W:watts} lower",
    "changed: unexplained more": "{Wh:wh} more than usual is not explained",
    "what ran": "the {name}",
    # How what was named is doing.
    "health: works harder": (
        "{name} ran {more:pct} more than this warmth asks for ({duty:pct} of the time): look at its door,"
        " its ice and the air to its condenser."
    ),
    "health: no rest": "{name} ran {hours:number} hours without a rest.",
    "health: left on": (
        "The standing load is {W:watts} higher than in any night of the last week: was something left on?"
    ),
    "health: standing creeps": "The standing load has crept up by {W:watts} in {nights:count} nights.",
    "health: pump weaker": (
        "The pump moved {less:pct} less water for its watt-hours than it usually does: look at its strainer."
    ),
    # The strip.
    "strip by load": (
        "Power used through the span, each load a band on the one below, the standing load at the bottom;"
        " letters and patterns are those of the ledger. Where nothing was heard nothing is drawn."
    ),
    "strip net": (
        "Power into the house bank, minute by minute: above the line it charged, below it was used. Where"
        " nothing was heard nothing is drawn."
    ),
    "strip by load told": "Power used, by load, most at once {peak}. From the bottom: {bands}.",
    "strip peak": "{watts:watts} at {at:time}",
    # The ledger.
    "ledger: as usual": "as usual",
    "ledger: never before": "new",
    "ledger: measured": "measured",
    "ledger: sure": "{sure:pct} sure",
    "ledger: on": "on for {on:span} in {runs:count} runs",
    "ledger: on at": "on for {on:span}, {when}",
    "ledger: rest": "what no load explains",
    "ledger: unnamed": "a load of {watts:watts}",
    "ledger: unnamed unknown": "a load without a name",
    "ledger: unmetered": "without a meter",
    "ledger: gaps": "{times}; what was used then is in no line",
    "ledger: against": "against the usual of {nights:count} nights{where}",
    "ledger: exact": "Lines add up to what stands under them, to the watt-hour.",
    "ledger: estimated": "estimated",
    "engine hour": "An hour of the {source} put in {Wh:wh}: {made:wh} in {hours} of running.",
    "engine hour unknown": "How long the {source} ran is not in the record: what an hour gave is not known.",
    "engine nothing": "The {source} gave nothing.",
    "before: so far": "{day}, so far",
    "costs from": "Nights in it: {nights:count}. A day: at the pace of the night, round the clock.",
    # Spans.
    "span: malformed": '{which}: expected a date and time like 2026-11-20T18:00, got "{got}".',
    "span: missing end": "A span needs both a from and a to.",
    "span: backwards": "The span ends before it begins: from {start}, to {end}.",
    "span: ahead": "The span begins in the future: it is {now:clock} now.",
    "span: too long": "The span is {length:span} long; at most {most:span} can be told at once.",
    "span: no clock": "The time is not known: no span can be told.",
    "away: never": "Nobody has been away in what is on record. Say so on Ahead when you all leave.",
    "away: still": "You have been away since {start:clock}: this is what stands so far.",
    "away: long": "You were away {length:span}: the last {most:span} of it are told.",
    "week: made": "{made} made and {used} used in {days:count} days: {net} net.",
    "week: unheard": "Nothing was heard on {days}.",
    "week: nothing": "Nothing was heard of the house bank in the last seven days.",
    # The loads.
    "loads: some": "{loads:count} loads are told apart by the steps they make; {unnamed:count} have no name.",
    "loads: some, one unnamed": "{loads:count} loads are told apart by the steps they make; one has no name.",
    "loads: all named": "{loads:count} loads are told apart by the steps they make; all have a name.",
    "loads: one": "One load is told apart by the steps it makes{name}.",
    "loads: none": (
        "No load has been told apart yet. They are learned from the nights: the first after two or three."
    ),
    "loads: no such": "No load of that name is known. It may have been forgotten since.",
    "load: what": "A load of {watts:watts} that {how}.",
    "load: named": "The {name}: {watts:watts}, and it {how}.",
    "load: cycles": "comes and goes by itself, {on:span} at a time",
    "load: pulses": "starts for {on:span} at a time",
    "load: runs": "runs when somebody wants it, {on:span} at a time",
    "load: varies": "varies while it runs, {on:span} at a time",
    "load: seen": (
        "Heard {runs:count} times in {nights:count} nights, last {seen:clock}. That it is one load, and told"
        " from the others, is {sure:pct} sure."
    ),
    "load: surge": "It starts with {start:watts}, and {watts:watts} go when it ends.",
    "load: suggestion": "By its watts and by how it runs it may be the {suggestion}.",
    "load: together": "{count:count} loads bear the name {name}: they are told together, as one.",
    "load: no runs": "No run of it stands in the nights on record, so there is nothing to draw.",
    "load: run": "{begin:clock}, {length:span}",
    "load: drawn": (
        "What the house bank gave around its last runs: the run is shaded. The other loads are in it too."
    ),
    "load: try it": "To be sure, switch it off and on again and see on Power what changes.",
    "load: unsure": "under 80 % it is not named in the ledger, whatever it is called",
    "load: name taken": '"{name}" is a line of the ledger\'s own',
    "load: name too long": "a name has at most {most:count} characters, this one has {got:count}",
}
