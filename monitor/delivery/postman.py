"""Sends one letter through apprise, in a process of its own: `python -m monitor.delivery.postman`.

It reads {"address", "subject", "body"} as JSON from its input, so that the address, which holds secrets,
stands in no list of processes. A service that hangs or answers without end takes this process down with
it, not the watch: it may hold so much memory and no more.
"""

import contextlib
import json
import resource
import sys

MOST_BYTES = 512 * 2**20
REFUSED, NOT_UNDERSTOOD = 1, 2


def main() -> int:
    with contextlib.suppress(OSError, ValueError):  # A service may be forbidden to limit itself.
        resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    import apprise

    letter = json.load(sys.stdin)
    asset = apprise.AppriseAsset(storage_mode=apprise.PersistentStoreMode.MEMORY)
    service = apprise.Apprise(asset=asset)
    if not service.add(letter["address"]):
        return NOT_UNDERSTOOD
    taken = service.notify(
        title=letter["subject"], body=letter["body"], body_format=apprise.NotifyFormat.TEXT
    )
    return 0 if taken else REFUSED


if __name__ == "__main__":
    sys.exit(main())
