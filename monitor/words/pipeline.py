"""Sentences of the pipeline: what the desks say of the boat as a whole, and of the watch itself."""

SENTENCES: dict[str, str] = {
    "days unknown until full": "How long it lasts is unknown until the first full charge.",
    "water in the tanks": "Added up from {tanks:count} tanks, without their unusable bottoms.",
    "water in doubt": "The level of {tank:text} is not certain now.",
    "water unknown without its tanks": "Unknown until every tank has been heard.",
    "clock disputed": "{source:text} tells another time than the one that is trusted.",
    "the watch stumbled": "The watch stumbled {times:count} times and went on: its journal says where.",
    "memory not understood": "What was remembered of {what:text} could not be read: it begins anew.",
}
