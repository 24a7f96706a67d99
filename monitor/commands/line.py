"""The command `ebbwatch`: its sub-commands, and how a mistake is told: one clear line, exit 2."""

import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from monitor import __version__
from monitor.errors import EbbwatchError, SettingsError
from simulators.scenarios import SCENARIOS

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="Watches what ebbs away aboard: energy and fresh water, in days left and how sure that is.",
)
USAGE_ERROR: type[Exception] = typer.BadParameter.__mro__[1]
"""The class of every mistake in the arguments, which typer does not export by its own name."""

SettingsPath = Annotated[Path, typer.Option(help="The boat's settings file.")]
SettingsFile = Annotated[Path, typer.Argument(help="The boat's settings file.")]
StorePath = Annotated[Path, typer.Option(help="The store: one SQLite file.")]


def _version(asked: bool) -> None:
    if asked:
        typer.echo(f"ebbwatch {__version__}")
        raise typer.Exit


@app.callback()
def ebbwatch(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    pass


@app.command()
def demo(
    port: Annotated[int, typer.Option(min=1, max=65535, help="Where the dashboard answers.")] = 8470,
    speed: Annotated[
        float, typer.Option(min=0.1, max=600, help="How many times faster than life the live part runs.")
    ] = 1.0,
    days: Annotated[int, typer.Option(min=0, max=60, help="Days of history before now.")] = 10,
    seed: Annotated[int, typer.Option(help="Another seed is another life aboard.")] = 1,
    browser: Annotated[bool, typer.Option(help="Open the dashboard in a browser.")] = True,
) -> None:
    """Marram's last days through the very pipeline, then her life as it goes on."""
    from monitor.commands.demo import run_demo

    run_demo(port=port, speed=speed, days=days, seed=seed, browser=browser)


@app.command()
def run(
    settings: SettingsPath,
    listen: Annotated[str, typer.Option(help="HOST:PORT of the dashboard.")] = "127.0.0.1:8470",
    tls: Annotated[bool, typer.Option("--tls", help="Serve with what `ebbwatch certificate` made.")] = False,
) -> None:
    """The watch itself, until it is stopped."""
    from monitor.commands.run import run_watch

    run_watch(settings, listen, tls=tls)


@app.command()
def password(settings: SettingsFile) -> None:
    """Set the password that the crew acts with: asked for twice, or one line of standard input."""
    from monitor.commands.password import set_password

    set_password(settings)


@app.command()
def certificate(
    settings: SettingsFile,
    name: Annotated[
        list[str] | None, typer.Option(help="What browsers open it by, a name or an address; again for more.")
    ] = None,
) -> None:
    """Make the boat's own root and the certificate that `ebbwatch run --tls` serves with."""
    from monitor.commands.certificate import certify

    certify(settings, name or [])


@app.command()
def check(settings: SettingsPath) -> None:
    """What was understood of the settings, what is listened to, and every mistake with its key."""
    from monitor.commands.check import check_settings

    check_settings(settings)


@app.command(epilog="\n\n".join(f"{name}: {row.title}" for name, row in SCENARIOS.items()))
def simulate(
    scenario: Annotated[str, typer.Argument(help="One of the scenarios below.")],
    out: Annotated[Path, typer.Option(help="The folder to write into.")],
    days: Annotated[float, typer.Option(min=0.01, max=400, help="How long.")] = 3.0,
    seed: Annotated[int, typer.Option(help="Another seed is another life aboard.")] = 1,
) -> None:
    """Write settings.toml, bus.log, mqtt.jsonl and truth.jsonl of a simulated boat."""
    from monitor.commands.simulate import simulate_into

    simulate_into(scenario, days, seed, out)


@app.command()
def replay(
    captures: Annotated[list[Path], typer.Argument(help="candump .log and MQTT .jsonl files.")],
    settings: SettingsPath,
    store: StorePath,
    report: Annotated[Path, typer.Option(help="Where the report (JSON) is written.")],
    estimates: Annotated[Path | None, typer.Option(help="Where estimates (JSON lines) are written.")] = None,
    every: Annotated[str, typer.Option(help="How often an estimate is written: 90s, 10m, 1h.")] = "10m",
    untrusted_clock: Annotated[
        bool, typer.Option("--untrusted-clock", help="The captures' time is only elapsed time.")
    ] = False,
) -> None:
    """Recordings through the same pipeline, as fast as it can."""
    from monitor.commands.replay import replay_captures

    replay_captures(
        captures, settings, store, report, estimates=estimates, every=every, trusted=not untrusted_clock
    )


@app.command()
def export(
    store: StorePath,
    channel: Annotated[str, typer.Option(help='Like "house current"; left out, they are listed.')] = "",
    start: Annotated[str, typer.Option("--from", help="ISO 8601; UTC where no offset is given.")] = "",
    end: Annotated[str, typer.Option("--to", help="ISO 8601; UTC where no offset is given.")] = "",
    out: Annotated[Path | None, typer.Option(help="The CSV file; standard output if left out.")] = None,
) -> None:
    """CSV of any channel and span."""
    from monitor.commands.export import export_channel

    export_channel(store, channel, start, end, out)


@app.command()
def nights(
    settings: SettingsPath,
    store: StorePath,
    keep: Annotated[
        bool, typer.Option("--keep", help="Put what was learned into the store; the watch must be stopped.")
    ] = False,
) -> None:
    """Every stored night explained anew, with the loads learned from them."""
    from monitor.commands.nights import explain_nights

    explain_nights(settings, store, keep)


def main() -> None:
    """Run the command line. Our own errors, mistakes in the arguments and files that cannot be read or
    written are one line and exit 2."""
    try:
        code = app(standalone_mode=False)
    except SettingsError as error:
        _stop("\n".join(error.mistakes))
    except EbbwatchError as error:
        _stop(str(error))
    except USAGE_ERROR as error:
        _stop(error.format_message() if hasattr(error, "format_message") else str(error))
    except BrokenPipeError:
        # Whoever read our output has heard enough, as in `ebbwatch export | head`.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
    except OSError as error:
        _stop(f"{error.filename}: {error.strerror}" if error.filename else str(error))
    except (KeyboardInterrupt, typer.Abort):
        sys.exit(130)
    sys.exit(code if isinstance(code, int) else 0)


def _stop(text: str) -> None:
    for line in text.splitlines():
        print(f"ebbwatch: {line}", file=sys.stderr)
    sys.exit(2)
