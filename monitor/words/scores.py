"""Why a rule calls in vain, and what might be changed."""

SENTENCES: dict[str, str] = {
    "score: false": "You called {false:count} of {count:count} false.",
    "score: true": "{about:text}: the crew says it was true",
    "score: false alarm": "{about:text}: the crew says it was a false alarm",
    "score: comes and goes": "It comes and goes: {chattering:count} of {count:count} came close together.",
    "score: never acted on": "Nobody ever acted on it, {count:count} times.",
    "score: gone before seen": "{doubtful:count} of {count:count} had gone before anybody saw them.",
    "score: often": "It called {sounding:count} times.",
    "score: another limit": (
        "With a limit of {limit:number} {unit:text} it would have sounded {times:count} times, not"
        " {instead:count}."
    ),
    "score: a longer delay": (
        "With a delay of {on_s:span} it would have sounded {times:count} times, not {instead:count}."
    ),
}
