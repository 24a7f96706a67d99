"""The sentences of guided tests: what to do, what each outcome means, and what was found."""

_SCALD = " Hot water scalds within a second at 60 °C (140 °F): mix it at the tap."
_NEVER = " Shut no cock between a heater and its relief valve or expansion vessel, and never plug that valve."
_SAY = " Then say that it is done."

_PLACES = {
    "after the pump": (
        "Shut “{cock:text}”, the cock after the pump.",
        "the check valve or the pump leaks back, or it leaks between the pump and this cock",
        "the leak is beyond this cock",
    ),
    "cold branch": (
        "Shut “{cock:text}”, a cock of the cold branches.",
        "the leak is not behind this cock",
        "the leak is in the cold pipes and taps behind this cock",
    ),
    "to the heater": (
        "With the heater off and cold, shut “{cock:text}”, the cock to the heater." + _NEVER,
        "the leak is not in the heater and the hot pipes",
        "the leak is in the heater, at its relief valve or in the hot pipes",
    ),
    "after the heater": (
        "With the heater off and cold, shut “{cock:text}”, a cock after the heater." + _NEVER,
        "the leak is not in the hot pipes behind this cock",
        "the leak is in the hot pipes and taps behind this cock",
    ),
}
"""By place: what to do, and what it means that the pump starts, and that it stays still."""
_REFILL = (
    " Open a cold tap until the pump starts, shut it, and let the pump stop by itself: the accumulator is"
    " full then."
)
_REOPEN = (
    " Open a cold tap, then “{before:text}” again; shut the tap when the pump has started, and let the pump"
    " stop by itself."
)
_LAST = {
    "leaks": "The pump started after {waited_s:span} with nobody drawing: water goes somewhere." + _REFILL,
    "not behind": (
        "The pump started all the same, after {waited_s:span}: what leaks is not behind “{before:text}”."
        + _REOPEN
    ),
    "behind": "The pump stayed still for {waited_s:span}: what leaks is behind “{before:text}”." + _REOPEN,
}
_NO_REFILL = "The pump has not run and stopped since this was asked, or is not heard: it may be switched off."
_SHUT = {
    f"guided: shut {place}, {last}": f"{said} {do}{_SAY} If the pump starts then, {starts}; if not, {rests}."
    for place, (do, starts, rests) in _PLACES.items()
    for last, said in (_LAST | {"no refill": _NO_REFILL + " Have all cocks open." + _REFILL}).items()
}

_NOTES = {
    "": "",
    ", drew": (
        "Somebody drew water: the wait begins again. If nobody did, the leak is large: switch the pump off"
        " and look for it. "
    ),
    ", once": (
        "The pump has started once, which one glass of water may do: the wait begins again, to see whether it"
        " does so again. "
    ),
    ", lost": "The pump's signal was lost: the wait begins again with it. ",
    ", restarted": "The watch was interrupted: the wait begins again. ",
    ", heater cools": "The heater is still cooling and may have started the pump: the wait begins again. ",
    ", heater on": "The heater is on: switch it off and let it cool; the wait begins again then. ",
}
_WAITS = {
    "all taps": (
        "and once more after a like time, the leak is real and the next step is to find where",
        "any leak is below {shows_L_per_h:rate}",
    ),
    "all taps once more": (
        "the leak is where it was found",
        "somebody drew water the first time, and any leak is below {shows_L_per_h:rate}",
    ),
    **{place: (starts, rests) for place, (_, starts, rests) in _PLACES.items()},
}
_WAIT = {
    f"guided: wait {place}{note}": (
        f"{noted}Draw no water and leave the pump switched on: {{left_s:span}} of {{wait_s:span}} to go. If"
        f" the pump starts, {starts}; if it stays still, {rests}."
    )
    for place, (starts, rests) in _WAITS.items()
    for note, noted in _NOTES.items()
}

_FOUND = {
    "tight": (
        "Tight: the pump did not start in {waited_s:span}. Any leak between the pump and the taps is below"
        " {bound_L_per_h:rate}."
    ),
    "leaks": (
        "With nobody drawing the pump started {starts:count} times in {waited_s:span}: about"
        " {leak_L_per_h:rate}, {leak_L_per_day:litres} a day. If the tank falls by as much, look along pipes,"
        " taps and the heater's relief valve; if it does not, the check valve leaks back. Cocks named in the"
        " settings would tell where."
    ),
    "leak at the pump": (
        "It leaks at the pump or before “{cock:text}”. Switch the pump off before you touch it, and tighten"
        " or renew what is wet."
    ),
    "check valve leaks back": (
        "The pump starts with “{cock:text}” shut and all is dry: water goes back to the tank through its"
        " valves or the check valve. Clean or renew them. No water is lost, but the pump wears."
    ),
    "pump side": (
        "It is on the pump's side of “{cock:text}”: the check valve or the pump leaks back, or it leaks"
        " there. Look at the pump when you can: wet is a leak, dry is a valve."
    ),
    "common pipes": (
        "It leaks between the pump and the cocks of the branches, the accumulator included, or in a branch"
        " that has no cock in the settings. Not behind: {cleared:text}."
    ),
    "cold branch": "It leaks in the cold pipes or taps behind “{behind:text}”.",
    "heater": (
        "It leaks at the heater, at its relief valve, or in a hot pipe that has no cock in the settings."
        " Never plug or cap that valve: if it weeps cold, have it renewed." + _SCALD
    ),
    "hot side": "It leaks in the hot pipes or taps behind “{behind:text}”." + _SCALD,
    "heater or hot side": (
        "It leaks at the heater, at its relief valve or in the hot pipes. Never plug or cap that valve."
        + _SCALD
    ),
    "beyond the pump": "It leaks beyond the pump; no further cock named in the settings tells where.",
    "elsewhere": (
        "It leaks, but not behind: {cleared:text}. No further cock named in the settings tells where."
    ),
    "stopped": "The test was stopped.",
    "given up": "Nobody went on with the test: it has ended without a result.",
}
_COCKS = " Now open every cock again, a cold tap first to let the pressure go gently."
_HEATER = (
    " Switch the heater on again only when it is full of water: run a hot tap until it flows without air."
    + _SCALD
)
_BACK = {
    "": "",
    ", open cocks": _COCKS + _SAY,
    ", open heater": _HEATER + _SAY,
    ", open cocks and heater": _COCKS + _HEATER + _SAY,
}

SENTENCES: dict[str, str] = {
    "guided: cool the heater": (
        "Switch the water heater off, its element and whatever else heats it, and let it cool, or run a hot"
        " tap until it comes cold, which takes as much water as it holds: cooling water starts the pump"
        " without a leak." + _SCALD + " Say when it is cold."
    ),
    "guided: shut the taps": (
        "Switch off whatever draws water by itself."
        + _REFILL
        + " Shut all taps and showers, and tell everybody"
        " to draw nothing." + _SAY + " The wait begins then: if the pump starts, water goes somewhere."
    ),
    "guided: shut the taps, no refill": _NO_REFILL + " Switch it on." + _REFILL + " Shut all taps." + _SAY,
    **_SHUT,
    "guided: open and wait again": (
        _LAST["behind"]
        + " Shut all taps."
        + _SAY
        + " The pump has not started since the first time: if it does"
        " now, that was no draw."
    ),
    "guided: open and wait again, no refill": _NO_REFILL + " Have all cocks open." + _REFILL + _SAY,
    **_WAIT,
    "guided: look at the pump": (
        "The pump started with “{cock:text}” shut, after {waited_s:span}: it leaks back, or it leaks"
        " between the pump and this cock. Feel with a dry cloth around the pump, the accumulator and the pipe"
        " between: is anything wet? Mind the pump: it starts by itself."
    ),
    **{
        f"guided: found {id}{back}": said + tail
        for id, said in _FOUND.items()
        for back, tail in _BACK.items()
    },
    "guided answer: done": "Done",
    "guided answer: drew": "Somebody drew water",
    "guided answer: wet": "Wet",
    "guided answer: dry": "All dry",
    "guided answer: unseen": "Cannot be seen",
}
