"""Sentences about sources and about readings that cannot be."""

SENTENCES: dict[str, str] = {
    "source heard": "{source:text} was heard {ago:span} ago.",
    "source open": "{source:text} is open, but nothing has been heard on it yet.",
    "source gone": "{source:text} was lost, last heard {ago:span} ago ({trouble:text}). "
    "It is tried again by itself.",
    "source down": "{source:text} cannot be reached ({trouble:text}). It is tried again by itself.",
    "not a number": "The instrument sent no number for {quantity:text}; it is taken as not available.",
    "out of range": "{quantity:text} of {value:count} {unit:text} cannot be: possible is {lowest:count} to "
    "{highest:count} {unit:text}. It is taken as not available.",
}
