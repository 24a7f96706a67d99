"""The sentences of shore power, generator and inverter."""

SENTENCES: dict[str, str] = {}
