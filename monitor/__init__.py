"""The watch: takes telemetry in, remembers it, works out what is left and how sure that is."""

__version__ = "0.6.0"
