"""`ebbwatch certificate`: what the dashboard is encrypted with, signed by a root of the boat's own."""

import socket
import time
from pathlib import Path

from monitor.errors import RightsError
from monitor.pipeline.clockwork import EARLIEST_UTC_S
from monitor.rights.certificate import make_certificate, utc
from monitor.rights.private_file import root_file, server_file
from monitor.settings_file import read_settings


def certify(settings_path: Path, names: list[str]) -> None:
    """Makes both and prints what to do next. Raises SettingsError and RightsError."""
    settings = read_settings(settings_path)
    store = settings.store.path
    now_s = time.time()
    if now_s < EARLIEST_UTC_S:
        raise RightsError(f"this computer's clock says {utc(now_s):%Y-%m-%d}: set it first")
    own = socket.gethostname().partition(".")[0]
    root, leaf, fresh = make_certificate(
        store, settings.boat.name, names or [f"{own}.local", own], utc(now_s)
    )
    print(f"Signed for {', '.join(leaf.names)}; good until {leaf.until:%Y-%m-%d}: {server_file(store)}")
    if fresh:
        print(f"A new root, good until {root.until:%Y-%m-%d}: every phone has to be told of it.")
    print(f"The root's SHA-256 fingerprint, to compare on the phone ({root_file(store)}):")
    pairs = root.fingerprint.split(":")
    print(f"  {' '.join(pairs[:16])}\n  {' '.join(pairs[16:])}")
    print(f"Serve with it: ebbwatch run --tls; then open https://{leaf.names[0]}:8470/phone on the phone.")
