"""Sentences about readings that cannot be."""

SENTENCES: dict[str, str] = {
    "not a number": "The instrument sent no number for {quantity:text}; it is taken as not available.",
    "out of range": "{quantity:text} of {value:count} {unit:text} cannot be: possible is {lowest:count} to "
    "{highest:count} {unit:text}. It is taken as not available.",
}
