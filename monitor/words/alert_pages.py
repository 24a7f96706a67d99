"""What the pages of alerts and rules say of their own accord, and of an alert beside its rule's words."""

SENTENCES: dict[str, str] = {
    # On a card.
    "alert: respond": "To be answered within {respond_s:span}.",
    "alert: with it": "With it: {children:text}.",
    "alert: with it and more": "With it: {children:text} and {more:count} more.",
    "alert: stale": "Not heard for {silent_s:span}: what it rests on is silent.",
    "alert: chatters": "It comes and goes.",
    "alert: escalated": "Nobody has seen it for so long that it was sent out a second time.",
    "alert: explained by": "Explained by: {name:text}.",
    # Counted.
    "alerts: flood": "{count:count} alerts began within ten minutes: only alarms are told one by one.",
    "alerts: counted": "{count:text}, the gravest: {name:text}",
    "alerts: gone unseen": "{count:count} have gone unseen",
    "alerts: gone unseen, one": "1 has gone unseen",
    "alerts: seen": "{count:count} seen and still there",
    "alerts: seen, one": "1 seen and still there",
    "alerts: more": "{count:count} more on the page of alerts",
    "alerts: put aside": "{count:count} put aside",
    "alerts: explained": "{count:count} explained by others",
    "alerts: none": "no alerts",
    "alerts: one": "1 alert",
    "alerts: many": "{count:count} alerts",
    # The sound.
    "sound: alarm": "Alarm: {name:text}.",
    "sound: hushed": "Silenced for 30 s: {name:text}.",
    "sound: unarmed": "Sound is not armed: touch once.",
    "sound: deaf": "Nothing is heard from the watch: no alarm can sound here.",
    # The shell on a phone.
    "shell: description": "Energy and fresh water aboard {boat:text}, in days left and how sure that is.",
    "shell: unheard": "Nothing is heard from the boat.",
    "shell: unheard, more": (
        "No figure stands here, for none would be of now, and no alarm can sound. Is this device on the"
        " boat's own network, and is the watch switched on?"
    ),
    "shell: again": "Try again",
    # What happened to an alert, for the log.
    "alert did: began": "began",
    "alert did: raised": "got worse",
    "alert did: came back": "came back",
    "alert did: escalated": "not seen by anybody: sent out a second time",
    "alert did: unshelved": "no longer put aside",
    "alert did: released": "no longer explained",
    "alert did: acknowledged": "seen",
    "alert did: shelved": "put aside",
    "alert did: suppressed": "explained by another",
    "alert did: fell silent": "what it rests on fell silent",
    "alert did: heard again": "what it rests on is heard again",
    "alert did: went": "gone, not seen by anybody",
    "alert did: returned": "gone",
    "alert did: ended": "over",
}
