"""Sentences about readings that cannot be."""

SENTENCES: dict[str, str] = {
    "not a number": "The instrument sent no number for {quantity:text}; it is taken as not available.",
    "out of range": "{quantity:text} of {value:number} {unit:text} cannot be: possible is {lowest:number} to "
    "{highest:number} {unit:text}. It is taken as not available.",
}
