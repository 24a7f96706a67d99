"""Numbers in, numbers out: what is left, how long it lasts, and how sure that is."""
