"""The sentences of what pump and pipes are found to have."""

SENTENCES: dict[str, str] = {}
