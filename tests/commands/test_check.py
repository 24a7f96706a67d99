"""`ebbwatch check`: what was understood of the settings, held against the file itself."""

import tomllib
from pathlib import Path

from tests.commands.conftest import Ebbwatch
from tests.commands.marram import sample_in


def test_the_sample_every_source_and_everything_it_will_listen_to(ebbwatch: Ebbwatch, tmp_path: Path) -> None:
    path = sample_in(tmp_path)
    tables = tomllib.loads(path.read_text())

    said = ebbwatch("check", "--settings", path)

    assert (said.code, said.mistakes) == (0, [])
    told = " ".join(said.out.split())
    assert "Marram: 3 aboard, ship's clock Europe/Madrid" in told
    # 10 % of 157 + 250 usable litres is more than 3 L a head for 3 days.
    assert "Water reserve 41 L, sealed 20 L apart" in told
    for source in tables["sources"]:
        assert source["name"] in told
    for line in (
        "socketcan can0, 250 kbit/s, nmea2000; never sends",
        "socketcan can1, 500 kbit/s, dbc; never sends",
        "MQTT 3.1.1 at 127.0.0.1:1883",
    ):
        assert line in told
    subjects = [s for rows in tables.values() if isinstance(rows, list) for s in rows if "feeds" in s]
    assert len(subjects) >= 15
    for subject in subjects:
        assert f"{subject['name']}:" in told
        for feed in subject["feeds"]:
            texts = ("message", "signal", "topic", "pointer", "quantity")
            named = [feed[key] for key in texts if key in feed]
            named += [f"{key} {feed[key]}" for key in ("instance", "indicator") if key in feed]
            for word in " ".join(named).split():
                assert word in told, feed


def test_what_has_no_feed_is_said(ebbwatch: Ebbwatch, tmp_path: Path) -> None:
    path = tmp_path / "boat.toml"
    path.write_text('[boat]\nname = "Tern"\n[[tanks]]\nname = "keel"\ncapacity_L = 90\n')

    said = ebbwatch("check", "--settings", path)

    assert said.code == 0
    assert "tanks[0]: keel has no feed: nothing will be known of it" in said.out


def test_who_is_told_and_whether_the_addresses_can_be_read(ebbwatch: Ebbwatch, tmp_path: Path) -> None:
    path, file = sample_in(tmp_path), tmp_path / "addresses"
    way = '[[ways]]\nkind = "message"\nname = "post"\nsecond = true\nurls_file = "addresses"\n'
    path.write_text(path.read_text() + way)

    assert "addresses: no such file" in ebbwatch("check", "--settings", path).out
    file.write_text("json://kelp4711@example.org\n# one more\n")
    file.chmod(0o644)
    assert "chmod 600" in ebbwatch("check", "--settings", path).out
    file.chmod(0o600)
    said = ebbwatch("check", "--settings", path).out
    assert "Way out boat's broker: mqtt, caution and graver\n" in said
    assert "Way out post: message, warning and graver, only what nobody has answered\n  1 address\n" in said
    assert "kelp4711" not in said
