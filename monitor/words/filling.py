"""The sentences of tanks, fills and the age of water."""

SENTENCES: dict[str, str] = {}
