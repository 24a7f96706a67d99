"""The sentences of Fit-out: how the instruments are, and the guided calibrations step by step."""

_STOP_ITSELF = "shut the tap and let the pump stop by itself"
_CONNECT = (
    " Connect the bank again now, at the same isolator, before any charger or engine runs. Then say that it"
    " is connected."
)
_NONE_TAKEN = " Nothing was changed."
_REPEATS = {
    "fill": (
        "Open a cold tap until the {pump} starts, {itself}. Then the accumulator is full, and the"
        " measuring begins."
    ),
    "say": (
        "The {pump} ran for {ran_s:seconds}. If it has stopped by itself with every tap shut, say how much"
        " stands in the {vessel}. If somebody else drew water, or it ran over, do this one again."
    ),
}

SENTENCES: dict[str, str] = {
    # Fit-out's first lines.
    "fit-out: all heard": "Every source is heard and every instrument speaks.",
    "fit-out: none set": "No source is set: the settings name what to listen to.",
    "fit-out: sources silent": "Silent: {names}.",
    "fit-out: instruments silent": "Every source is heard. Silent: {names}.",
    "fit-out: and instruments": "Of what still speaks, these say nothing: {names}.",
    "fit-out: and more": "{names} and {more:count} more",
    "fit-out: nothing to calibrate": "Nothing wants calibrating.",
    "fit-out: worth calibrating": "Worth calibrating: {names}.",
    "fit-out: flow of": "the flow of the {subject}",
    "fit-out: sounding of": "the sounding table of the {subject} tank",
    "fit-out: drawdown of": "the drawdown of the {subject}",
    "fit-out: no feed": "Nothing will be known of these, for the settings name no feed: {names}.",
    "fit-out: never heard": "Not heard since the watch began, as when at rest or unplugged: {names}.",
    "fit-out: speaks": "{source}",
    "fit-out: speaks more": "{source}, {detail}",
    "fit-out: speaks often": "{source}, in {count:count} messages",
    "fit-out: never": "never heard",
    "fit-out: silent now": "silent for {ago:span}",
    "fit-out: from pieces": "from {count:count} fills and draws",
    "fit-out: from runs": "from {count:count} runs",
    "fit-out: from low ends": "from {count:count} times down to its low end",
    "fit-out: from fulls": "from its full charges",
    "fit-out: from repeats": "from {count:count} repeats",
    "fit-out: from minutes": "over {count:count} min with nothing flowing",
    "fit-out: from settings": "as the settings say",
    "fit-out: from label": "as its label says",
    "fit-out: from practice": "as any sensor may be off",
    "fit-out: give or take": "give or take {half}",
    # What the watch hears while it calibrates.
    "calibration hears: pump unheard": "Nothing is heard of the {pump}.",
    "calibration hears: pump runs": "The {pump} is running: {ran:span} so far.",
    "calibration hears: pump rests": "The {pump} is at rest.",
    "calibration hears: ran": "It has run for {ran:seconds} in this one.",
    "calibration hears: level": "The sender of the {tank} tank says {now:number} %.",
    "calibration hears: level unheard": "The sender of the {tank} tank says nothing.",
    "calibration hears: tilt": "The boat leans {now:number}°.",
    "calibration hears: calm": "Calm for {calm:count} of {minutes:count} minutes.",
    "calibration hears: current": "The {bank} bank's sensor says {now:mA}.",
    "calibration hears: current unheard": "The {bank} bank's sensor says nothing.",
    "calibration hears: listening": "{left:span} still to listen.",
    # What was measured so far.
    "calibration noted: flow": "{nth:count}: {litres:fine} in {ran:seconds}, {flow:flow}",
    "calibration noted: drawdown": "{nth:count}: {litres:fine}, then the pump ran for {ran:seconds}",
    "calibration noted: pair": "{reading:number} %: {litres:fine}, until now taken for {before:fine}",
    "calibration noted: minute": "Minute {nth:count}: {amps:mA}",
    # What came in between.
    "calibration note: again": "This one does not count.",
    "calibration note: lost": "The {pump}'s signal was lost: this one does not count.",
    "calibration note: short": "That run was too short to be timed well: draw more, or a fuller bucket.",
    "calibration note: apart": "The two do not agree well enough: a third decides.",
    "calibration note: unheard": "The sender says nothing.",
    "calibration note: heels": "The boat is not upright: bring her level, or wait.",
    "calibration note: swings": "The level swings: wait until it is still.",
    "calibration note: no rise": (
        "The reading has not risen: the float may be at its end, or stick. What was poured is counted, this"
        " reading is not."
    ),
    "calibration note: drawn": "A pump ran, so the measuring ends here: what came before stands.",
    "calibration note: source runs": "{source:text} was heard running: the listening has ended.",
    "calibration note: under way": "The boat is under way: the listening has ended.",
    "calibration note: not steady": "The current did not stand still.",
    "calibration note: too large": "{value:mA} is more than a sensor is off by.",
    "calibration note: stopped": "The listening was stopped.",
    # A pump's flow.
    "calibration flow: fill": _REPEATS["fill"].replace("{itself}", _STOP_ITSELF),
    "calibration flow: draw": (
        "Bucket {nth:count}. Empty it, then fill it from a cold tap in one go to a mark that you know,"
        " {least:litres} or more, " + _STOP_ITSELF + ". Nobody else may draw."
    ),
    "calibration flow: say": _REPEATS["say"].replace("{vessel}", "bucket"),
    "calibration flow: result": "The {pump} moves {value:flow}, give or take {half:flow}.",
    # What an accumulator gives.
    "calibration drawdown: fill": _REPEATS["fill"].replace("{itself}", _STOP_ITSELF),
    "calibration drawdown: draw": (
        "Jug {nth:count}. All taps are shut. Draw cold water slowly into an empty jug, in a thin stream,"
        " until the {pump} starts: shut the tap at that moment, and let the pump stop by itself. About"
        " {promised:fine} is expected by the pressures in the settings."
    ),
    "calibration drawdown: say": (
        _REPEATS["say"].replace("{vessel}", "jug")
        + " What stands in it is what came before the pump started."
    ),
    "calibration drawdown: result": (
        "Between its stop and its next start {value:fine} can be drawn, give or take {half:fine}. By the"
        " pressures in the settings it would be {promised:fine}."
    ),
    # A tank's sounding table.
    "calibration sounding: start": (
        "Bring the boat upright, switch off the pump that draws from the {tank} tank, and let the tank be as"
        " low as the table is to reach. Say how much is in it now, down to the very bottom: where the"
        " pump has just run dry, {bottom:litres} by the settings."
    ),
    "calibration sounding: settle": (
        "{in_it:fine} are in the {tank} tank. Wait while its reading settles: the boat upright and still,"
        " nothing drawn and nothing poured."
    ),
    "calibration sounding: pour": (
        "That reading is noted. Pour in a known amount, a tenth of the tank or less, and say how much it"
        " was. Go on until it is full, or say that it is enough."
    ),
    "calibration sounding: result": "The {tank} tank was measured before and after {pours:count} pours.",
    # A current sensor's zero.
    "calibration caution: zero": (
        "Never open a battery switch or isolator while the engine or any charger is running: the load dump"
        " destroys the alternator, and chargers can be harmed. Switch off everything that charges first:"
        " engine, shore power, generator, sun, wind. With the bank isolated, navigation lights, instruments,"
        " bilge pumps and radio may go dark. Do this only at rest in a safe berth and in daylight, keep to"
        " your local rules, and leave it to a qualified person if you are not sure of every step. Ebbwatch"
        " only listens: it opens and closes nothing."
    ),
    "calibration zero: read": (
        "Read the caution. When every source is off and the {bank} bank is isolated at its isolator, by your"
        " own hand and with its sensor still supplied, say that it is done: the listening begins."
    ),
    "calibration zero: listen": (
        "Leave everything as it is for {minutes:count} minutes: nothing should flow through the sensor of"
        " the {bank} bank, and the watch listens to what it says all the same."
    ),
    "calibration zero: back": "The listening is over." + _CONNECT,
    "calibration zero: result": (
        "With nothing flowing the sensor of the {bank} bank says {value:mA}, give or take {half:mA}."
    ),
    # How one ended without a result.
    "calibration over: not plausible": (
        "{value:number} against {before:number} that were reckoned with cannot be right: was the amount said"
        " in the right unit, and did nobody else draw?" + _NONE_TAKEN
    ),
    "calibration over: apart": "Three repeats do not agree: somebody else may have drawn." + _NONE_TAKEN,
    "calibration over: drawn": (
        "The {pump} ran before there was enough: switch it off and begin again." + _NONE_TAKEN
    ),
    "calibration over: does not rise": "What was noted does not rise from pair to pair." + _NONE_TAKEN,
    "calibration over: source runs": "{source:text} was heard running." + _NONE_TAKEN,
    "calibration over: under way": "The boat is under way." + _NONE_TAKEN,
    "calibration over: unheard": "The sensor of the {bank} bank fell silent with its bank." + _NONE_TAKEN,
    "calibration over: not steady": (
        "Something still flows, or the sensor wanders: the minutes lie too far apart." + _NONE_TAKEN
    ),
    "calibration over: too large": (
        "{value:mA} with nothing flowing is more than the {most:mA} that a sensor may be off by: something"
        " still flows through it, or it is wired wrongly." + _NONE_TAKEN
    ),
    "calibration over: stopped": "It was stopped." + _NONE_TAKEN,
    **{
        f"calibration over: {what} interrupted": (
            "The watch was interrupted, and with it this calibration: begin again." + _NONE_TAKEN + back
        )
        for what, back in (
            ("flow", ""),
            ("drawdown", ""),
            ("sounding", ""),
            ("zero", " If the bank is still isolated, connect it again before any charger or engine runs."),
        )
    },
    # A result against what was believed, and what a table leaves out.
    "calibration against: flow": "Until now {before:flow} were reckoned with.",
    "calibration against: drawdown": "Until now {before:fine} were reckoned with.",
    "calibration against: zero": "Until now {before:mA} were reckoned with, give or take {half:mA}.",
    "calibration against: sounding": (
        "Where it differs most, at {reading:number} %, the tank holds {litres:fine} and not {before:fine}."
    ),
    "calibration against: same table": "It is the table that was reckoned with, within a litre.",
    "calibration covers": (
        "Measured from {low:number} % to {high:number} %. Outside of that nothing is known: the earlier"
        " table goes on there, moved so that it meets the new one."
    ),
    "calibration sounding: taken": "{count:count} pairs, {low:number} % to {high:number} %",
}
