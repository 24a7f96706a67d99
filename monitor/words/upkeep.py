"""The sentences of watermakers, counters, services and frost."""

_NOT_COUNTED = " Water that is not made yet is never counted in the days that are left."
_FLUSHED = " Flushing took {flush_L:litres} of fresh water."
_RATED = (
    "The {maker:text} made about {made_L:litres} today, partly by its rating: what it gives falls in cold and"
    " salty water and as its membrane ages."
)
_DRAIN = (
    "Drain before it freezes: first the accumulator, then the tanks, then the water heater, its element"
    " switched OFF before and never on while it is empty. With the taps open pump out what stays in the pump"
    " and the pipes, and empty the bowls of strainers and filters. Antifreeze that is thinned by water left"
    " in the pipes protects less than its label says; use only what is made for drinking water. Hot water"
    " scalds: let the heater cool first. Mains power can kill: leave its wiring to qualified people."
)

SENTENCES: dict[str, str] = {
    # Watermakers.
    "maker made": "The {maker:text} made {made_L:litres} today." + _NOT_COUNTED,
    "maker made, and flushed": "The {maker:text} made {made_L:litres} today." + _FLUSHED + _NOT_COUNTED,
    "maker made, by its rating": _RATED + _NOT_COUNTED,
    "maker made, by its rating, and flushed": _RATED + _FLUSHED + _NOT_COUNTED,
    "maker not heard": "Nothing was heard of the {maker:text} today." + _NOT_COUNTED,
    "maker: no clock": "No trusted time yet, so what the {maker:text} made today is not known."
    + _NOT_COUNTED,
    "maker takes": "What the {maker:text} took over what it made, in the week.",
    "maker's energy not known": (
        "What a litre takes is not known: the {maker:text} has made too little in the week, or tells no"
        " power."
    ),
    # Counters and services.
    "counted since the watch began": "Counted since the watch began.",
    "alert: service due by h": (
        "{service:text}: {used:count} hours since it was last done, of {limit:count} ({subject:text})."
    ),
    "alert: service due by L": (
        "{service:text}: {used:litres} since it was last done, of {limit:litres} ({subject:text})."
    ),
    "alert: service due by days": (
        "{service:text}: {used:count} days since it was last done, of {limit:count}."
    ),
    "alert: service not due": "{service:text}: due in about {due_s:span}.",
    "alert: service not due, no pace": "{service:text}: not due yet.",
    "alert: service not known": "{service:text}: what it is counted by is not known.",
    "service due: name": "Service due",
    "service due: do": (
        "Do it as its maker says, then say on the page of water that it is done. Switch off and secure what"
        " may start by itself. An accumulator's pre-charge is measured with the pump off and a cold tap open."
        " Mix disinfectant with water only, and rinse until neither smell nor taste is left."
    ),
    "service due: otherwise": "It wears, clogs or grows foul, and fails when it is needed.",
    # Frost.
    "coldest place": "The coldest place near the plumbing: the {place:text}.",
    "coldest place, falling": (
        "The coldest place near the plumbing: the {place:text}. As it falls it is at freezing in"
        " {ice_s:span}."
    ),
    "frost not known": "No thermometer near the plumbing is heard.",
    "alert: plumbing cold": "It is {celsius:temp} at the {place:text} and nobody is aboard.",
    "alert: frost coming": (
        "It is {celsius:temp} at the {place:text} and nobody is aboard; as it falls it is at freezing in"
        " {ice_s:span}."
    ),
    "alert: plumbing freezes": "It freezes at the {place:text}: {celsius:temp}, and nobody is aboard.",
    "alert: frost not watched": "Somebody is aboard.",
    "alert: frost not known": "No thermometer near the plumbing is heard: whether it freezes is not known.",
    "plumbing may freeze: name": "Plumbing may freeze",
    "plumbing may freeze: do": _DRAIN,
    "plumbing may freeze: otherwise": (
        "Ice splits the pump, the heater, filters and fittings; it shows when it thaws, and the tanks run"
        " into the bilge."
    ),
}
