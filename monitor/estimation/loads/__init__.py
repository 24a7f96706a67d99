"""Loads told apart by the steps they make in the one current of the house bank."""
