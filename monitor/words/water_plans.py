"""The sentences of days of water and saving it."""

SENTENCES: dict[str, str] = {}
