"""Sentences of the plumbing: what it is found to have, by which evidence, and what to do next."""

_OFF = "Switch the {pump:text} off at its breaker"
_HOT = "The water in a heater scalds: switch it off and let it cool first, and mind every hot tap."
_RELIEF = "Never cap or close off a relief valve."
_ELECTRIC = "Switch the pump off at its breaker before you touch its wires."

SENTENCES: dict[str, str] = {
    # What was seen.
    "alert: plumbing quiet": "Nothing of the kind is seen on the {pump:text}.",
    "alert: burst by pressure": (
        "The {pump:text} has been running for {running_s:span} and its pressure stays at {bars:bar},"
        " where it"
        " should come up to {cut_out_bar:bar}: nothing holds the water back."
    ),
    "alert: burst by current": (
        "The {pump:text} has been running for {running_s:span} at {amps:amps}, less than any draw of"
        " yours needs"
        " ({usual_A:amps} when it stops by itself), yet not dry: nothing holds the water back."
    ),
    "alert: burst by tank": (
        "The {pump:text} has been running for {running_s:span}, and the tanks have fallen by"
        " {fallen_L:litres}."
    ),
    "alert: burst by length": (
        "The {pump:text} has been running for {running_s:span} without a stop, past the limit of"
        " {limit_s:span}"
        " for this boat and for what she does now."
    ),
    "alert: burst by share": (
        "The {pump:text} has been running for {running_s:span} without a stop and has moved about"
        " {pumped_L:litres}: more than {share_pct:pct} of the tanks it draws from."
    ),
    "alert: pump dry by pressure": (
        "The {pump:text} has been running for {running_s:span} and its pressure never rises"
        " ({bars:bar}), while"
        " the tanks do not fall for it: it draws air."
    ),
    "alert: pump dry by current": (
        "The {pump:text} has been running for {running_s:span} at only {amps:amps} (usually"
        " {usual_A:amps} when"
        " it stops): it draws air."
    ),
    "alert: pump dry by tank": (
        "The {pump:text} has been running for {running_s:span}, enough for {pumped_L:litres}, and the"
        " tanks have"
        " not fallen: it draws air, or its switch is stuck."
    ),
    "alert: pump switch stuck by pressure": (
        "The {pump:text} has been running for {running_s:span} at {bars:bar}, past the"
        " {cut_out_bar:bar} at which"
        " it should stop."
    ),
    "alert: pump switch stuck by current": (
        "The {pump:text} has been running for {running_s:span} at {amps:amps}, more than the"
        " {usual_A:amps} at"
        " which it usually stops."
    ),
    "alert: pump switch stuck by tank": (
        "The {pump:text} has been running for {running_s:span}, enough for {pumped_L:litres}, and the"
        " tanks have"
        " not fallen: its switch is stuck, or it draws air."
    ),
    "alert: pump signal wrong": (
        "The {pump:text} is said to have been running for {running_s:span}, but neither its current"
        " nor the tanks"
        " show it: the signal is wrong, a wire is off, or the pump has no power."
    ),
    "alert: leak above the pump": (
        "The tanks have fallen by {excess_L:litres} more in {excess_h:number} hours than was pumped"
        " out of them"
        " ({pumped_L_then:litres})."
    ),
    "alert: check valve leaks back": (
        "The pump refilled {lone_L:litres} in {lone_h:number} hours with nobody drawing, and the tanks"
        " have not"
        " fallen for it: the water runs back through the pump."
    ),
    "alert: accumulator flat": (
        "{short:count} of the last {short_of:count} runs were shorter than half of the"
        " {promised_s:number} seconds"
        " that a refill takes: the accumulator gives too little water between starts."
    ),
    "alert: relief valve weeps": (
        "In the last week the pump refilled {heated_starts:count} times while water was heated or shortly"
        " after, and not when the heater was cold: more than its shrinking explains."
    ),
    "alert: tap left open": "Water has been running steadily, at about {rate_L_per_h:rate}.",
    "alert: strainer clogging": (
        "A minute of the pump moves only {flow_pct:pct} of the water that it was taught."
    ),
    "alert: pump silent": (
        "Not one start of the {pump:text} in {still_s:span} of waking hours aboard, yet the tanks have"
        " fallen by"
        " {gone_L:litres}."
    ),
    "alert: refills explained": "Not called a leak: {verdict:text} explains why the {pump:text} starts.",
    # Further evidence.
    "plumbing: refills": (
        "The pump refills with nobody drawing, for about {leak_L_per_h:rate}, {leak_L_per_day:litres} a day."
    ),
    "plumbing: refills cost days": (
        "The pump refills with nobody drawing, for about {leak_L_per_h:rate}, {leak_L_per_day:litres}"
        " a day: it"
        " costs {days_lost:days} of what the water lasts."
    ),
    "plumbing: rests": "The pump rests: any leak is below {bound_L_per_h:rate}.",
    "plumbing: tank matches": (
        "The tanks have fallen by the {lone_L:litres} of refills in {lone_h:number} hours: the water is gone."
    ),
    "plumbing: not with heating": "The refills come whether water is heated or not.",
    "plumbing: cooling": (
        "{cooled:count} refills ({cooled_L:litres}) while a heater cooled: its water shrinks by as much."
    ),
    # What to do next.
    "next: tight": "Nothing needs doing.",
    "next: not enough known yet": (
        "Leave the pump on overnight with all taps shut: a quiet night tells most."
    ),
    "next: leak downstream": (
        "Look at each tap, the heads, the deck shower and the joints for drops; then make the guided"
        " test, which"
        " shuts one cock after another. " + _HOT + " " + _RELIEF
    ),
    "next: leak above the pump": (
        "Look under the tanks and along the hoses up to the pump, at the drain, the inspection lid and the"
        " strainer's bowl; shut the tank's cock overnight and see whether it still falls."
    ),
    "next: check valve leaks back": (
        "Shut a cock after the pump, if there is one, for a few hours: if the starts go on, the pump's"
        " valves leak"
        " back; clean the strainer and the valves. " + _ELECTRIC
    ),
    "next: accumulator flat": (
        _OFF
        + ", open a cold tap until it runs dry and measure the accumulator's air: it wants about 10 % less"
        " than the pressure at which the pump starts. If water comes out of its air valve, its bladder"
        " is torn."
    ),
    "next: relief valve weeps": (
        "Look at the relief valve's outlet while water heats: drops, or a warm hose, are the answer."
        " Switch the"
        " heater off and let it cool before you touch anything: the water scalds. " + _RELIEF
    ),
    "next: cooling heater": "Nothing needs doing: the starts end once the heater is cold.",
    "next: tap left open": "Look at every tap, the shower, the deck wash and the heads.",
    "next: burst": (
        _OFF
        + " and look for the hose that is off, the heater's first: that water scalds, and its element must be"
        " off before it runs empty."
    ),
    "next: pump dry": (
        _OFF
        + ". Is the tank empty, its cock shut, the strainer's lid drawing air, or the pick-up clear of the"
        " water as she heels? Then change over to another tank and bleed a cold tap."
    ),
    "next: pump switch stuck": (
        _OFF
        + " and open a cold tap to take the pressure off; then look at its pressure switch and its voltage."
    ),
    "next: strainer clogging": (
        _OFF + " and clean the strainer before it; look for a kinked suction hose and a tired filter."
    ),
    "next: pump silent": (
        "Look at the wire, the plug and the fuse of the pump's signal, then run a tap and see."
    ),
    # What each rule is called, what to do, and what happens otherwise.
    "burst: name": "Burst or hose off",
    "burst: do": (
        "Is a tap or shower running? If not, switch the pump off at its breaker at once and look for"
        " the hose that"
        " is off; water in the bilge tells. Heater hoses scald: switch the heater off and let it cool"
        " first. " + _RELIEF
    ),
    "burst: otherwise": (
        "The tanks are pumped into the bilge, and a heater that runs empty burns its element."
    ),
    "pump dry: name": "Pump runs dry",
    "pump dry: do": (
        "Switch it off at its breaker. Look at the tank, its cock and the strainer's lid; change over"
        " to another"
        " tank and bleed a cold tap. Under way the pick-up may be clear of the water."
    ),
    "pump dry: otherwise": "It wears out or burns, and there is no water at the taps.",
    "pump switch stuck: name": "Pressure switch stuck",
    "pump switch stuck: do": (
        "Switch the pump off at its breaker and open a cold tap to take the pressure off, never a hot"
        " one first:"
        " it scalds. Then look at the switch. " + _RELIEF
    ),
    "pump switch stuck: otherwise": "A hose or joint bursts, or the pump burns.",
    "leak above the pump: name": "Leak before the pump",
    "leak above the pump: do": (
        "Look under the tanks and along the hoses to the pump, and at drain and inspection lid. Shut"
        " the tank's"
        " cock overnight: if it still falls, it is the tank."
    ),
    "leak above the pump: otherwise": "The water goes on being lost without the pump ever starting.",
    "check valve leaks back: name": "Pump leaks back to the tank",
    "check valve leaks back: do": (
        "No water is lost. Shut a cock after the pump for some hours: if it still starts, clean or"
        " replace the"
        " pump's valves and its strainer. " + _ELECTRIC
    ),
    "check valve leaks back: otherwise": "The pump starts day and night, wears, and hides a true leak.",
    "accumulator flat: name": "Accumulator flat or full of water",
    "accumulator flat: do": (
        "Switch the pump off at its breaker, run a cold tap dry, and pump the accumulator's air up to"
        " some 10 %"
        " below the pressure at which the pump starts; replace it if water comes out of its air valve."
    ),
    "accumulator flat: otherwise": "The pump goes on and off with every draw and wears out its switch.",
    "relief valve weeps: name": "Relief valve weeps",
    "relief valve weeps: do": (
        "Look at the valve's outlet while water heats; the water scalds, so let the heater cool before"
        " any work."
        " A worn valve wants replacing by the maker's book; an expansion vessel may be missing. " + _RELIEF
    ),
    "relief valve weeps: otherwise": (
        "Water and heat go into the bilge, and the drip can turn into a stream."
    ),
    "tap left open: name": "Water left running",
    "tap left open: do": "Look at every tap, the shower, the deck wash and the heads, and shut what runs.",
    "tap left open: otherwise": "The tanks go down by what runs, and the bilge takes it.",
    "strainer clogging: name": "Strainer or filter clogging",
    "strainer clogging: do": (
        "Switch the pump off at its breaker, clean the strainer, and look at the filter and for a"
        " kinked hose."
    ),
    "strainer clogging: otherwise": "The pump works harder for less water, and may draw air in the end.",
    "pump silent: name": "Pump's signal silent or wrong",
    "pump silent: do": "Look at the wire, the plug and the fuse of its signal; then run a tap and see.",
    "pump silent: otherwise": "A leak, a burst and the litres used are not seen.",
}
