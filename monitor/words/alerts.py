"""The sentences of the alerts: what was seen, what each rule is called, what to do, what else happens."""

SENTENCES: dict[str, str] = {
    # What was seen.
    "alert: low voltage": "The {bank:text} bank is down to {voltage_V:volts}; its limit is {limit_V:volts}.",
    "alert: low charge": (
        "The {bank:text} bank is likely at {likely_pct:pct}, perhaps only {low_pct:pct};"
        " the limit is {limit_pct:pct}."
    ),
    "alert: charge not vouched for": (
        "The {bank:text} bank is likely at {likely_pct:pct}, but it may be as low as {low_pct:pct},"
        " under the limit of {limit_pct:pct}."
    ),
    "alert: charge unknown": "The charge of the {bank:text} bank is unknown until the first full charge.",
    "alert: few energy days": (
        "The {subject:text} bank may reach its reserve in {cautious_days:days} (limit {limit_days:days})."
    ),
    "alert: low water": "{left_L:litres} of fresh water are left; the limit is {limit_L:litres}.",
    "alert: few water days": (
        "Fresh water may reach the reserve in {cautious_days:days} (limit {limit_days:days})."
    ),
    "alert: pump running on": (
        "The {pump:text} has been running for {running_s:span} without a stop; the limit is {limit_s:span}."
    ),
    "alert: pump emptying a tank": (
        "The {pump:text} has been running for {running_s:span},"
        " and the tanks have fallen by {fallen_L:litres}."
    ),
    "alert: leak not judged": "There is not enough quiet time yet to judge leaks.",
    "alert: source silent": (
        "The source {source:text} has said nothing for {silent_s:span}. Without it nothing new is known of:"
        " {instruments:text}."
    ),
    "alert: source never heard": (
        "The source {source:text} has said nothing since the watch began. Without it nothing is known of:"
        " {instruments:text}."
    ),
    "alert: instrument silent": (
        "{subject:text}: no {quantities:text} for {silent_s:span}, though its source speaks."
    ),
    "alert: instrument never heard": "{subject:text}: never heard, though its source speaks.",
    "alert: clock not confirmed": "No trusted source has told the time yet.",
    "alert: store is well": "The store is well.",
    "alert: grouped": "Explained by another alert: {rule:text}, {subject:text}.",
    "alert: job": "Explained by a job aboard: {job:text}.",
    "flood": "{count:text} alerts began within ten minutes. The gravest stand on the page of alerts.",
    "way tried": "A trial of the ways out. Whoever reads or hears this is reached.",
    "alert: way out dead": (
        "Nothing has got through to {way:text} for {failing_s:span}; {waiting:text} wait. {trouble:text}"
    ),
    "alert: no longer watched": "The settings no longer watch this.",
    # What each rule is called, what to do, and what happens otherwise.
    "low voltage: name": "Voltage low",
    "low voltage: do": (
        "Switch off what can wait, start a charge source, and look for the load or the bad joint that pulls"
        " it down. Never open the battery switch while a charge source is running."
    ),
    "low voltage: otherwise": "The battery may be harmed, or its own protection may cut everything off.",
    "low charge: name": "Charge low",
    "low charge: do": (
        "Charge, as the maker of the battery allows it, or switch off what can wait, before the next night."
    ),
    "low charge: otherwise": "The reserve is used next, and then the battery cuts off.",
    "charge not vouched for: name": "Charge not vouched for",
    "charge not vouched for: do": "Charge the bank until it is full when you can: the count starts afresh.",
    "charge not vouched for: otherwise": "The figure drifts further: the bank may be emptier than it says.",
    "charge unknown: name": "Charge unknown until the first full",
    "charge unknown: do": "Charge the bank until it is full. Until then go by its voltage.",
    "charge unknown: otherwise": "There is no charge figure and no days left to plan on.",
    "few energy days: name": "Energy for few days",
    "few energy days: do": "Plan a charge within that time, or use less.",
    "few energy days: otherwise": "The bank reaches its reserve on the cautious day.",
    "low water: name": "Water low",
    "low water: do": "Dip the tank before you rely on it; use less, and plan where to fill.",
    "low water: otherwise": "Only the reserve is left.",
    "few water days: name": "Water for few days",
    "few water days: do": "Decide where and when to fill, or use less.",
    "few water days: otherwise": "The tanks reach the reserve on the cautious day.",
    "pump running on: name": "Pump running on",
    "pump running on: do": (
        "Is a tap or shower running? If not, switch the pump off and look for a burst hose, an empty tank or"
        " a stuck pressure switch; water in the bilge tells which."
    ),
    "pump running on: otherwise": "A whole tank can be pumped into the bilge, or a dry pump ruined.",
    "leak suspected: name": "Leak suspected",
    "leak suspected: do": (
        "Close all taps and leave the pump on for an hour; then shut the stop cocks one after another and see"
        " with which one the starts end. Look at the bilge and the joints. Never close off a relief valve."
    ),
    "leak suspected: otherwise": "The water goes on being lost, and the bilge takes it.",
    "source silent: name": "Nothing heard from a source",
    "source silent: do": "Look at its plugs, its fuse and its power.",
    "source silent: otherwise": "What it measures is not known, and no alert can rest on it.",
    "instrument silent: name": "Instrument silent",
    "instrument silent: do": "Look at its plug, its fuse and its power, and at its number in the settings.",
    "instrument silent: otherwise": "What it measures is not known, and no alert can rest on it.",
    "clock not confirmed: name": "Clock not confirmed",
    "clock not confirmed: do": "Switch on the position receiver or the network, or confirm the time by hand.",
    "clock not confirmed: otherwise": "Nothing is placed in the day: no nights, no usual hours, no forecast.",
    "way out dead: name": "A way out is dead",
    "way out dead: do": "Look at its network, address and password, then try it from the page of alerts.",
    "way out dead: otherwise": "Whoever relies on it hears of nothing.",
    "store trouble: name": "Trouble with the store",
    "store trouble: do": "Look at the card: is it full, loose or worn? Keep a spare one with a copy.",
    "store trouble: otherwise": "The history may have a gap; the watch goes on meanwhile.",
}
