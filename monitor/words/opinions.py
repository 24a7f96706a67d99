"""The sentences of instruments that disagree, stick or err."""

_BY_SOMEBODY = (
    " Zeroing and wiring are for somebody who knows the boat's batteries; with chargers running the bank"
    " stays connected."
)

SENTENCES: dict[str, str] = {
    # What the figures rest on.
    "opinions compared": "From the hourly means of both instruments, at most three days of them.",
    "opinions compared, one mute": (
        "From the hourly means of both instruments, at most three days of them; {instrument} says 0 below"
        " about 1 A, and those minutes are left out."
    ),
    "opinions not compared": "The two instruments have not been heard together for long enough.",
    # What was seen.
    "alert: instruments not compared": "There is no second instrument to compare with, or not for long.",
    "alert: instruments disagree": (
        "The {bank:text} bank's two current sensors disagree: at rest {other:text} reads {offset_mA:count} mA"
        " beside {first:text} (minus: less), over {hours:count} hours. Which one is right is not known; the"
        " full charges to come will tell."
    ),
    "alert: first instrument errs": (
        "The {bank:text} bank's two current sensors are {apart_mA:count} mA apart at rest. The full charges"
        " show that {first:text} is the one that is off, by {first_mA:count} mA (minus: it reads too little);"
        " the charge figure allows for that. Believe {other:text}."
    ),
    "alert: second instrument errs": (
        "The {bank:text} bank's two current sensors are {apart_mA:count} mA apart at rest. The full charges"
        " bear out {first:text}; {other:text} is off by {other_mA:count} mA (minus: it reads too little)."
        " Believe {first:text}."
    ),
    "alert: both instruments err": (
        "The {bank:text} bank's two current sensors are {apart_mA:count} mA apart at rest. By the full"
        " charges both are off: {first:text} by {first_mA:count} mA, which the charge figure allows for, and"
        " {other:text} by {other_mA:count} mA (minus: it reads too little)."
    ),
    "alert: an instrument has shifted": (
        "The {bank:text} bank's two current sensors are {apart_mA:count} mA apart at rest: since one of them"
        " came back {other:text} reads {shift_mA:count} mA beside what it did. Which one is right is not"
        " known yet."
    ),
    "alert: instruments differ in gain": (
        "The {bank:text} bank's two current sensors disagree the more the more flows: {other:text} reads"
        " {gain_pct:number} % beside {first:text}. Which one is right is not known: is the shunt's size set"
        " right in both?"
    ),
    "alert: instruments are strangers": (
        "{first:text} and {other:text} do not measure the same current. Have two devices the same number on"
        " the bus, or does one of them belong to another bank?"
    ),
    "alert: instruments count opposite ways": (
        "{first:text} and {other:text} count opposite ways: what flows in for one flows out for the other."
    ),
    "alert: two speak as one": (
        "The voltage of the {bank:text} bank goes to and fro between {low_V:volts} and {high_V:volts} from"
        " reading to reading: two devices speak with the same number."
    ),
    "alert: sensor stuck": (
        "{channel:text} has said exactly {value:number} {unit:text} for {for_s:span}, while this moved:"
        " {witnesses:text}."
    ),
    "alert: current stays at nothing": (
        "{channel:text} has said exactly 0 A for {for_s:span}, while this moved: {witnesses:text}. The sensor"
        " is stuck, or the bank is cut off."
    ),
    "alert: current reversed": (
        "{channel:text} counts the wrong way: {steps:count} times lately the voltage rose when it said that"
        " less flowed into the bank, and fell when it said more. Everything counted from it runs backwards."
    ),
    "alert: sensor off zero": (
        "{channel:text} reads {offset_mA:count} mA with nothing flowing, as the full charges have shown: its"
        " zero is off, or something draws past it. The charge figure allows for it."
    ),
    "alert: sensor off zero, bank cut off": (
        "{channel:text} reads {offset_mA:count} mA while the battery has cut itself off and nothing can flow."
    ),
    "alert: charge jumped": (
        "The charge told by {instrument:text} jumped from {from_pct:pct} to {to_pct:pct} {age_s:span} ago;"
        " the current does not explain it. Our own figure does not use it."
    ),
    "alert: charge frozen": (
        "The charge told by {instrument:text} stands at {to_pct:pct} although {counted_pct:pct} of the bank"
        " has flowed since. Our own figure does not use it."
    ),
    "alert: bank changed": (
        "Two full charges of the {bank:text} bank did not fit the count: the sensor reads otherwise than it"
        " did, or the bank holds less."
    ),
    # What each rule is called, what to do, and what happens otherwise.
    "instruments disagree: name": "Instruments disagree",
    "instruments disagree: do": (
        "Look at both instruments' zero, shunt size and number on the bus; plan on the worse of the two"
        " meanwhile." + _BY_SOMEBODY
    ),
    "instruments disagree: otherwise": "One of them misleads whoever looks at it, the more the longer.",
    "sensor stuck: name": "Sensor stuck",
    "sensor stuck: do": (
        "Look at its display, plug and fuse. Does the bank still give and take current? Its own protection"
        " may have cut it off: do not bridge it."
    ),
    "sensor stuck: otherwise": "The charge is counted from a figure that is not true.",
    "current reversed: name": "Current counted backwards",
    "current reversed: do": (
        "In the settings turn round `positive` of its feed (charging or discharging), or have the wires of"
        " its shunt changed over. Until then go by the voltage." + _BY_SOMEBODY
    ),
    "current reversed: otherwise": "The charge rises on the page while the bank empties.",
    "sensor off zero: name": "Current sensor off zero",
    "sensor off zero: do": (
        "Have it zeroed as its maker says, with the bank isolated and every charge source off. Never open the"
        " battery switch while a charge source is running." + _BY_SOMEBODY
    ),
    "sensor off zero: otherwise": (
        "The charge is told with a wider band, and the instrument's own figure drifts day by day."
    ),
    "charge jumped: name": "Charge figure of an instrument jumped or froze",
    "charge jumped: do": "Do not plan on that figure; charge the bank until it is full when you can.",
    "charge jumped: otherwise": "Somebody goes by it and is left with an empty bank.",
    "bank changed: name": "Sensor or bank has changed",
    "bank changed: do": (
        "Was a shunt, a cable or a battery changed, or a load connected past the shunt? If not, have the"
        " capacity tested. Charge until full twice: the count learns anew."
    ),
    "bank changed: otherwise": "The charge may be far off, either way, until it has been learned anew.",
}
