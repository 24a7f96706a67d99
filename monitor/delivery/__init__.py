"""The ways out to the crew: one thread a way, in order, at least once, none in the way of another.

Nothing is ever taken from a way: no command comes in by one, and none goes out to anything that switches.
"""
