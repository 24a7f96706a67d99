"""Sentences, units and the ship's clock: the only place where numbers become words."""
