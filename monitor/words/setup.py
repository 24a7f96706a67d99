"""The first-run guide: what it says, and the comments of the settings file that it writes."""

from monitor.words.tongues import N_

HEAD = N_(
    "The boat's settings, written by the first-run guide. settings.sample.toml shows every key.\n"
    "Units stand in the names: V, A, W, Ah, Wh, L, bar above the air's pressure, °C, s."
)
TABLES = {
    "boat": N_("The boat."),
    "sources": N_("What is listened to. Nothing is ever sent there."),
    "banks": N_("Batteries. The feeds say where readings come from: the first of a quantity counts."),
    "tanks": N_("Water tanks."),
    "pumps": N_("Fresh-water pumps."),
    "heaters": N_("Water heaters."),
    "chargers": N_("What charges a bank."),
    "loads": N_("Loads with a meter of their own."),
    "supplies": N_("Supplies of mains: a pedestal, a generator."),
    "inverters": N_("What makes mains from a bank."),
    "engines": N_("Engines."),
    "watermakers": N_("Watermakers."),
    "instruments": N_("Everything that is only looked at."),
}
KEYS = {
    ("boat", "crew"): N_("Who drinks and washes: sets the water reserve."),
    ("boat", "time_zone"): N_("The ship's clock. Moving it moves no history."),
    ("sources", "bit_rate"): N_("Bits a second, for adapters that are told."),
    ("banks", "role"): N_('"house" has days left, "buffer" stands behind a converter, "start" an engine.'),
    ("banks", "nominal_V"): N_("The voltage that it is called by."),
    ("banks", "reserve_pct"): N_("What days left never touch."),
    ("tanks", "unusable_L"): N_("Below the pick-up."),
    ("pumps", "flow_L_per_min"): N_("Until its own runs and the tanks teach better."),
    ("chargers", "into"): N_("The bank it charges."),
    ("supplies", "limit_A"): N_("What the pedestal, or the breaker, allows."),
    ("inverters", "bank"): N_("The bank it draws from."),
    ("engines", "drives"): N_('"propeller" tells motoring from sailing; "generator" does not.'),
}
SENTENCES = {
    "setup: down": N_(
        "{channel} is there, but down. Whoever looks after this computer brings it up, listening only:"
        " ip link set {channel} up type can bitrate 250000 listen-only on"
    ),
    "setup: quiet bus": N_(
        "Nothing heard on {source} for {ago:span}. Is the bus switched on? Is its bit rate the right one:"
        " 250 kbit/s on NMEA 2000 and RV-C? Are both wires and the two resistors at its ends in place?"
        " A bus on which nobody else listens needs somebody to acknowledge: then the interface"
        " must not listen only."
    ),
    "setup: quiet broker": N_(
        "The broker {source} answers, but nothing was heard for {ago:span}. Do the instruments publish?"
        " May this user read their topics?"
    ),
    "setup: quiet recording": N_("Nothing more comes from the recording {source}: it is played once."),
    "setup: trouble": N_("{source} does not answer: {trouble}"),
    "setup: waiting": N_("{source} has not answered yet."),
    "setup: unknown": N_(
        "{source} also said {frames:count} things that are not understood, of {kinds:count} kinds. They are"
        " counted, not lost: other makers' messages are among them, and that is usual."
    ),
    "setup: left out": N_(
        "{source} says more than can be kept here: {count:count} were left out. A broker's user that may read"
        " fewer topics helps."
    ),
    "setup: draft not kept": N_(
        "What you answer cannot be kept on the disk: {why}. It is kept until this computer is switched off."
    ),
    "setup: draft damaged": N_("What was answered before could not be read and was put aside as {file}."),
    "setup: nothing heard": N_("Nothing was heard yet. This page looks again by itself."),
    "setup: heard": N_("{things:count} things speak. Say what each is; leave what you do not know."),
    "setup: bound": N_("{bound:count} are named. Go on whenever you like: the rest can wait."),
    "setup: kept aside": N_("The file that was there is kept as {file}."),
    "setup: begins": N_("The settings are written. The watch begins."),
    "setup: name taken": N_("{name} is the name of something else already; each needs its own."),
    "setup: no number": N_("{label}: expected a number, got {got}."),
    "setup: missing": N_("{label}: this cannot be heard, so it must be said."),
    "setup: gone": N_("That is not heard any more. Choose again."),
    "setup: not bound": N_("Nothing is named yet. At least one thing must be, or there is nothing to watch."),
    "setup: source in use": N_("{source} is what {subject} rests on: take that away first."),
}
LACKS = {
    "house": N_("No house bank: no days of energy."),
    "house current": N_("No current of the house bank: its charge and what the night took stay unknown."),
    "house voltage": N_("No voltage of the house bank: neither its full charges nor a low voltage are seen."),
    "tank": N_("No water tank: no days of water."),
    "level": N_("No level of a tank: its litres stay unknown."),
    "pump": N_("No pump that tells when it runs: a leak shows by the tanks alone, and late."),
    "charger": N_(
        "No charger with a current: what charges and what is used at the same time cannot be told apart."
    ),
    "position": N_(
        "No position: write latitude and longitude below [boat] in the file, or dusk and dawn are those of"
        " the equator."
    ),
    "temperature": N_("No temperature near the pipes: frost is not seen coming."),
    "heel": N_("No heel: a tank's level under sail is believed as it is."),
    "cells": N_("No cells' voltages: a battery that is about to switch off gives no warning."),
}
