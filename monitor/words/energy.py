"""What the energy estimates rest on."""

_COUNTED = "Counted since the last full charge, {since_s:span} ago"

SENTENCES: dict[str, str] = {
    "charge unknown until full": "Charge unknown until the first full charge.",
    "charge lost in a gap": (
        "Charge unknown: there were no readings for too long. The next full charge tells it again."
    ),
    "charge not told of this bank": (
        "No charge is told of the {bank} bank: while a charger holds its voltage, that says nothing."
    ),
    "charge counted": _COUNTED + "; the sensor's offset is taken as {offset_A:amps}.",
    "charge not heard": _COUNTED + ", but the current has been silent for {silent_s:span}.",
    "charge count doubted": (
        _COUNTED + ". Two full charges did not fit the count: sensor or bank has changed."
    ),
    "days from settings": (
        "From the usual use in the settings: the watch has only {days:count} whole days of its own."
    ),
    "days from history": "From the last {days:count} days {place:text}, hour by hour.",
    "days from few days": "From {days:count} days {place:text} so far: wide until there are fourteen.",
    "days from other places": "From {days:count} days elsewhere: too few {place:text} so far.",
}
