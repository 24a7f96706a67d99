"""What is said about signing in, and about putting the boat's certificate on a phone."""

SENTENCES: dict[str, str] = {
    "sign in": "Sign in to act aboard {boat:text}.",
    "signed in already": "You are signed in.",
    "nobody signs in": (
        "No password is set, and the watch answers on its own computer alone: whoever sits there may act."
    ),
    "wrong password": "That is not the password.",
    "too many attempts": "Too many attempts. The next one is looked at in {wait_s:count} s.",
    "no sign-in": (
        "Nobody can sign in: the password's file cannot be used. Somebody at the watch's own computer sets a"
        " new password; its log says what is wrong."
    ),
    "form of another session": (
        "This form was drawn before you signed in, or for a sign-in that is over. Nothing was done: load the"
        " page again."
    ),
    "on a phone": "{boat:text} on a phone: her pages on the home screen, trusted by the phone.",
    "on a phone, unencrypted": (
        "This page came unencrypted. On a phone {boat:text} then lacks three things: the screen goes dark"
        " while you watch, her pages cannot be put on the home screen as an app of their own, and no sound"
        " comes while the phone looks at something else. What is typed, the password too, can be read on the"
        " way."
    ),
    "root unreadable": "The boat's root certificate cannot be read: the watch's own computer says why.",
    "no root": "The boat has no root certificate yet.",
}
