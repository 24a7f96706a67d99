"""The sentences of tanks, fills and the age of water."""

_DIP = "Dip the tank, and go by what you find until it is put right."

SENTENCES: dict[str, str] = {
    # What a tank's litres rest on.
    "tank by the pump": (
        "No sender: from when its litres were last known, less the {pumped_L:litres} pumped since. Dip it"
        " when you can."
    ),
    "tank by the pump, sender reversed": (
        "Its sender goes the wrong way: reckoned from when its litres were last known, less the"
        " {pumped_L:litres} pumped since."
    ),
    "tank sender reversed": (
        "Its sender goes the wrong way, so what is in it is not known. Fill it to the brim or dip it, and"
        " say so."
    ),
    "water, some shut off": (
        "Added up from {tanks:count} tanks, without their unusable bottoms. Shut off, but still counted:"
        " {shut:text}."
    ),
    # Whether it is drawn from.
    "tank: in use": "It falls by what the pump draws.",
    "tank: not drawn from": "It stands still while the pump draws: its valve is likely shut.",
    "tank: share not known": "Not known yet which tank the pump draws from.",
    "tank: shut off": "Its valve is said to be shut: counted as water aboard, not as drawn from.",
    "tank: shut off, yet it falls": (
        "Its valve is said to be shut, and yet it has fallen by {lost_L:litres}: the valve lets water by,"
        " or the tank leaks."
    ),
    "tank: doubtful": "Its water is not to be counted on: kept out of the days left.",
    # What its readings have taught.
    "table: too little learned": (
        "The tank teaches its own table: {pieces:count} pieces so far, of a dozen that are needed."
    ),
    "table: given one holds": (
        "By {pieces:count} pieces of pumping and filling it may hold {by_L:litres} {way:text} at"
        " {at_pct:pct} than its table says. That foretells no better: the given table is used."
    ),
    "table: taught and used": (
        "By {pieces:count} pieces of pumping and filling it holds {by_L:litres} {way:text} at {at_pct:pct}"
        " than the given table says. That foretells better, and counts from the next fill on."
    ),
    "sums: not enough compared": "Not enough of tank and pump compared yet.",
    "sums: agree": "The pump moved {pumped_L:litres} while the tank fell by {fallen_L:litres}: they agree.",
    "sums: apart": (
        "The pump moved {pumped_L:litres} by its flow while the tank fell by {fallen_L:litres} by its table."
    ),
    # Litres a head.
    "a head: by the week": (
        "Mean of {days:count} days with somebody aboard, each by the heads then aboard; yesterday"
        " {yesterday_L:litres}."
    ),
    "a head: nobody yesterday": (
        "Mean of {days:count} days with somebody aboard, each by the heads then aboard; yesterday is not"
        " known."
    ),
    "a head: no day yet": "Not known before a whole day with somebody aboard was watched.",
    # Filling.
    "alert: tank nearly full": ("{tank:text} is at {level_pct:pct} and still being filled."),
    "tank nearly full: name": "Tank nearly full",
    "tank nearly full: do": (
        "Stand by the filler and stop in time. Never jam the hose into it: air and water must be able to"
        " come out."
    ),
    "tank nearly full: otherwise": (
        "It runs over through its vent, perhaps inside the boat, and a tank under pressure can burst."
    ),
    # Senders.
    "alert: tank sender is well": "The sender of {tank:text} behaves.",
    "alert: tank sender stuck": (
        "The sender of {tank:text} has not moved while {pumped_L:litres} were pumped: stuck, or the water"
        " comes from elsewhere."
    ),
    "alert: tank sender reversed": (
        "The sender of {tank:text} rises while the pump draws, or falls while it is filled: wired or set"
        " the wrong way round."
    ),
    "alert: tank sender out of range": (
        "The sender of {tank:text} tells {outside_pct:pct}, which its table does not have."
    ),
    "alert: tank sender noisy": (
        "The sender of {tank:text} swings without an end although the boat should lie still: perhaps a"
        " loose wire or a worn track, perhaps a swell. Its last calm level is held."
    ),
    "alert: tank sender absent": "The sender of {tank:text} has not been heard for {unheard_s:span}.",
    "tank sender wrong: name": "Tank sender wrong",
    "tank sender wrong: do": _DIP + " Look at the sender's plug, wire, float and settings.",
    "tank sender wrong: otherwise": "The litres and days left rest on the pump alone, or are not known.",
    # Sums.
    "alert: sums not compared": "Tank and pump have not been compared enough yet.",
    "alert: sums agree": (
        "Of {tank:text} the pump moved {pumped_L:litres} while it fell by {fallen_L:litres}: they agree."
    ),
    "alert: sums, flow": (
        "The pump moved {pumped_L:litres} by its set flow while {tank:text} fell by {fallen_L:litres}, and"
        " the litres filled agree with the tank: the pump's flow is set wrong, or has changed. No sign of a"
        " leak."
    ),
    "alert: sums, table": (
        "The pump moved {pumped_L:litres} while {tank:text} fell by {fallen_L:litres}, and the litres"
        " filled do not agree with the tank either: its table or capacity is set wrong. No sign of a leak."
    ),
    "alert: sums, falls more": (
        "{tank:text} fell by {fallen_L:litres} while the pump moved {pumped_L:litres}: the pump's flow is"
        " set too low, the tank's table says too much, or something else draws from the tank."
    ),
    "alert: sums, falls less": (
        "The pump moved {pumped_L:litres} while {tank:text} fell by {fallen_L:litres}: the pump's flow is"
        " set too high, the tank's table says too little, or water came in besides. No sign of a leak."
    ),
    "alert: sums, said": (
        "{said_L:litres} were said to be filled into {tank:text}, but its level rose by {rose_L:litres}: a"
        " table or a capacity set wrong, another tank filled along with it, or a figure misread. No sign of"
        " a leak."
    ),
    "alert: shut tank falls": (
        "{tank:text} is said to be shut off, and yet it has fallen by {lost_L:litres}: the valve is not"
        " shut or lets water by, or the tank itself loses water."
    ),
    "water does not add up: name": "Water does not add up",
    "water does not add up: do": (
        "Run the pump into a bucket for a minute and measure: that is its flow. Look which valves are open."
        " Fill the tank from a meter or from cans and tell the litres: the tank learns its table from that."
        " Put right what is set wrong."
    ),
    "water does not add up: otherwise": "Litres used and days left are off by as much.",
    # Age.
    "alert: water old": (
        "The untreated water in {tank:text} is {age_s:span} old on the mean; the limit is {limit_s:span}."
    ),
    "alert: water old, treatment not told": (
        "The water in {tank:text} is {age_s:span} old on the mean or older, and nobody has said that it was"
        " treated; the limit is {limit_s:span}."
    ),
    "water old: name": "Water old",
    "water old: do": (
        "Look, smell and taste with care. Use it for washing and fill afresh, or disinfect it as the maker"
        " of the means says; boil what is drunk where in doubt. Nothing aboard can see germs, salt or fuel."
    ),
    "water old: otherwise": "Standing untreated water can grow germs and slime that make the crew ill.",
}
