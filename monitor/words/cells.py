"""The sentences of the cells and the countdown to a disconnect."""

SENTENCES: dict[str, str] = {}
