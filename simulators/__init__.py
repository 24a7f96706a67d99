"""A boat that obeys physics and speaks on real buses."""
