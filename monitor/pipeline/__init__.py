"""The straight line: take in, remember, assess."""
