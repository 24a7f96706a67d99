"""The scripts of others are the ones they published, and nothing else is served."""

import hashlib
import re
from pathlib import Path

import web

VENDOR = Path(web.__file__).parent / "static" / "vendor"


def test_every_vendored_file_has_its_sum_and_its_licence() -> None:
    """SOURCES.md names each script and style with its sha256; the licences lie beside them."""
    rows = re.findall(
        r"^\| (\S+) \|.*\((\S+)\) \| ([0-9a-f]{64}) \|$", (VENDOR / "SOURCES.md").read_text(), re.M
    )
    assert {name for name, _, _ in rows} == {p.name for p in VENDOR.iterdir() if p.suffix in (".js", ".css")}
    for name, licence, digest in rows:
        assert hashlib.sha256((VENDOR / name).read_bytes()).hexdigest() == digest, name
        assert (VENDOR / licence).exists()


def test_our_scripts_and_styles_name_nothing_outside() -> None:
    """No address with a scheme, no import, no eval in what we wrote."""
    ours = [p for p in VENDOR.parent.iterdir() if p.suffix in (".js", ".css")]
    assert len(ours) > 5
    for path in ours:
        assert not re.search(r"https?://|@import|url\(|eval\(|innerHTML", path.read_text()), path.name
