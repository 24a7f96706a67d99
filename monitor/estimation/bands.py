"""How wide a band is."""

BAND_90 = 1.645
"""Standard deviations to either side of the middle that hold 90 % of a normal distribution."""
