"""The sentences of the store: what is wrong with the card or the file on it, and uncertain times."""

SENTENCES: dict[str, str] = {
    "store: set aside": (
        "The history file was damaged. It is set aside as {name:text} and a new one is begun;"
        " the watch goes on."
    ),
    "store: failing": (
        "Nothing can be written to the card ({why:text}). The watch goes on in memory and keeps trying."
    ),
    "store: slow": "The card has not answered for {slow_s:span}. The watch goes on in memory.",
    "store: lost minutes": "{minutes:count} minutes of readings were lost: the card took none for too long.",
    "store: lost entries": "{entries:count} log entries were lost: the card took nothing for too long.",
    "store: damaged minutes": (
        "{minutes:count} stored minutes of readings were damaged on the card and are left out."
    ),
    "uncertain": "time uncertain",
    "uncertain: between": (
        "time uncertain, between {earliest_s:date} {earliest_s:time} and {latest_s:date} {latest_s:time}"
    ),
    "uncertain: after": "time uncertain, after {earliest_s:date} {earliest_s:time}",
    "uncertain: before": "time uncertain, before {latest_s:date} {latest_s:time}",
}
