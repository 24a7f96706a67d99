"""What a rule's change would have brought: what that was reckoned from."""

SENTENCES: dict[str, str] = {
    "preview: not recorded": (
        "Nothing of what this rule looks at is recorded: what it would have done is not known."
    ),
    "preview: by the minute": "Reckoned from what was kept by the minute.",
    "preview: by the lowest of each minute": (
        "Reckoned from the lowest of each minute: a short dip in two minutes that follow counts as one."
    ),
    "preview: by the hour": "Reckoned in part from hours, as the minutes are no longer kept: roughly.",
    "preview: by forecasts": (
        "Reckoned from the forecasts that are kept every six hours: nothing is known of what lay between."
    ),
    "preview: by the pump's runs": "Reckoned from the pump's own runs, to the second.",
    "preview: by the leak judge": (
        "Reckoned from what the leak judge said each minute; other causes of the refills are left out."
    ),
    "preview: while nobody is aboard": (
        "Reckoned from the coldest thermometer near the plumbing, while you had said that nobody is aboard."
    ),
    "preview: by the label's capacity": (
        "Reckoned from the energy that was left, of the capacity on the label: roughly."
    ),
    "preview: told": (
        "It would have sounded {sounded:text} in {heard_s:span} of hearing, {sounding_s:span} altogether,"
        " the longest {longest_s:span}."
    ),
    "preview: silent": (
        "It would have been open {times:text} in {heard_s:span} of hearing, and never sounded."
    ),
    "preview: nothing": "Nothing would have come of it in {heard_s:span} of hearing.",
    "preview: for ever": (
        "It would have been open for {share_pct:pct} of the time, or without an end: such a limit tells you"
        " nothing, and is refused."
    ),
}
