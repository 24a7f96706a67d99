"""What the energy estimates rest on."""

_SINCE = "Last full {since_s:span} ago"

SENTENCES: dict[str, str] = {
    "charge unknown until full": (
        "Charge unknown until the first full charge: until then the count has nothing to begin at."
    ),
    "charge lost in a gap": (
        "Charge unknown: there were no readings for too long. The next full charge tells it again."
    ),
    "charge not told of this bank": (
        "No charge is told of the {bank} bank: while a charger holds its voltage, that says nothing."
    ),
    "charge counted": _SINCE + ", counted since; the sensor's offset is taken as {offset_A:amps}.",
    "charge long not full": (
        _SINCE + ": what the sensor misses adds up, and the band grows day by day. A full charge, held until"
        " the current is a tail, puts it right."
    ),
    "charge seen at the low end": (
        _SINCE + "; {ago_s:span} ago the rested voltage stood at the low end of the curve: about"
        " {seen_pct:pct} was left then, and it is counted from there."
    ),
    "charge bounded by voltage": (
        _SINCE + "; {ago_s:span} ago the rested voltage showed that the count could not be right, and it"
        " was moved to {seen_pct:pct}, the nearest that could. A full charge tells it for sure."
    ),
    "charge not heard": _SINCE + " and counted, but the current has been silent for {silent_s:span}.",
    "charge count doubted": (
        _SINCE + ". Two fulls, or two low ends, did not fit the count: sensor or bank has changed, and it is"
        " being learned anew."
    ),
    "charge of labelled capacity": (
        "Taking the bank to hold {capacity_Ah:count} Ah when full, {low_Ah:count} to {high_Ah:count}, by its"
        " label: it has not been seen from full to the low end yet."
    ),
    "charge of learned capacity": (
        "Taking the bank to hold {capacity_Ah:count} Ah when full, {low_Ah:count} to {high_Ah:count}: learned"
        " between full and the low end, seen so far: {times:count}."
    ),
    "days from settings": (
        "From the usual use in the settings: whole days of the watch's own: {days:count}."
    ),
    "days from history": "From the last {days:count} days {place:text}, hour by hour.",
    "days from few days": "From {days:count} days {place:text} so far: wide until there are fourteen.",
    "days from other places": "From {days:count} days elsewhere: too few {place:text} so far.",
}
