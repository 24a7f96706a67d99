"""What is deployed fits together: the documents, the bit rates, the names."""

import configparser
import re
from pathlib import Path

import pytest

from monitor.channels import QUANTITIES
from monitor.settings import CanSource, MqttSource, Settings
from monitor.settings_file import read_settings
from monitor.wire import nmea2000, rvc

ROOT = Path(__file__).parents[2]
DEPLOY = ROOT / "deploy"
INSTALL = (DEPLOY / "install.md").read_text("utf-8")


@pytest.fixture(scope="module")
def sample() -> Settings:
    return read_settings(DEPLOY / "settings.sample.toml")


def test_every_can_interface_of_the_sample_is_brought_up_at_its_bit_rate(sample: Settings) -> None:
    interfaces = [s for s in sample.sources if isinstance(s, CanSource) and s.interface == "socketcan"]
    assert {s.channel for s in interfaces} == {file.stem for file in (DEPLOY / "can").iterdir()}
    for source in interfaces:
        network = configparser.ConfigParser()
        network.read(DEPLOY / "can" / f"{source.channel}.network", "utf-8")

        assert network["Match"]["Name"] == source.channel
        assert int(network["CAN"]["BitRate"]) == source.bit_rate
        assert network["CAN"]["ListenOnly"] == "yes"


def test_the_broker_listens_where_the_sample_looks(sample: Settings) -> None:
    (broker,) = [s for s in sample.sources if isinstance(s, MqttSource)]

    assert f"\nlistener {broker.port} {broker.host}\n" in (DEPLOY / "mosquitto.conf").read_text("utf-8")


def test_install_md_leads_to_every_file() -> None:
    files = [f for f in DEPLOY.rglob("*") if f.is_file() and f.name != "install.md"]

    assert len(files) >= 6
    assert [f.name for f in files if str(f.relative_to(ROOT)) not in INSTALL] == []


def test_every_file_that_install_md_copies_is_there() -> None:
    named = set(re.findall(r"(?:deploy|simulators)/[\w./]+\.\w+", INSTALL))

    assert named
    assert [name for name in named if not (ROOT / name).is_file()] == []


def test_every_message_and_quantity_that_a_feed_may_name_is_listed() -> None:
    messages = {layout.name for table in (nmea2000.LAYOUTS, rvc.LAYOUTS) for layout in table.values()}
    measured = {q.name for q in QUANTITIES.values() if q.silent_after_s > 0}
    names = messages - {"address claim"} | {re.sub(r"cell \d+", "cell N", name) for name in measured}

    assert [name for name in sorted(names) if f"`{name}`" not in INSTALL] == []


@pytest.mark.parametrize(
    "caution",
    [
        "no protection device",
        "Shore power and inverters can kill",
        "qualified person",
        "licensed fitter",
        "Never open a battery switch or contactor",
        "no charging below 0 °C",
        "scalds",
        "Never plug, cap or shut off a relief valve",
        "It listens and never controls anything",
        "competent person with the circuit isolated",
        "isolated input across the pump's motor",
        "CAN standards have no pump message to rely on",
    ],
)
def test_the_cautions_are_printed(caution: str) -> None:
    assert caution in " ".join(INSTALL.split())
