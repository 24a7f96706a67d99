"""What numbered states mean, once, whatever number a protocol gives them on the wire.

A field whose name stands here decodes to the place of its state in the tuple: a charger in
absorption is 2, whether NMEA 2000 or RV-C said so.
"""

STATES: dict[str, tuple[str, ...]] = {
    "charger state": (
        "not charging", "bulk", "absorption", "overcharge", "equalise", "float", "no float",
        "constant voltage or current", "disabled", "fault", "storage",
    ),
    "inverter state": ("inverting", "passing through", "sensing load", "fault", "disabled"),
    "watermaker state": (
        "stopped", "starting", "running", "stopping", "flushing", "rinsing", "initiating", "manual",
    ),
    "running": ("no", "yes"),
    "on": ("no", "yes"),
    "enabled": ("no", "yes"),
    "contactor closed": ("no", "yes"),
}  # fmt: skip

OFF_ON = {0: "no", 1: "yes"}
STATUS = {0: "good", 1: "warning", 2: "error"}
FLUIDS = {0: "fuel", 1: "fresh water", 2: "grey water", 3: "live well", 4: "oil", 5: "black water"}
TEMPERATURES = {
    0: "sea", 1: "outside", 2: "inside", 3: "engine room", 4: "main cabin", 5: "live well",
    6: "bait well", 7: "refrigerator", 8: "heating", 9: "dew point", 13: "freezer", 14: "exhaust gas",
}  # fmt: skip
PRESSURES = {
    0: "atmosphere", 1: "water", 2: "steam", 3: "compressed air", 4: "hydraulics", 5: "filter",
    6: "altimeter setting", 7: "oil", 8: "fuel",
}  # fmt: skip
