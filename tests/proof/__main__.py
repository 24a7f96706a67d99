"""`python -m tests.proof [NAME ...] [--fresh]`: run the long proofs, or what is missing of them."""

import argparse
import sys

from rich.console import Console
from rich.progress import Progress

from tests.proof.harness import cases, kept, prove


def main() -> int:
    everything = {case.name: case for case in cases()}
    parser = argparse.ArgumentParser(prog="python -m tests.proof", description=__doc__)
    parser.add_argument("names", nargs="*", help=f"of: {', '.join(everything)}")
    parser.add_argument("--fresh", action="store_true", help="run again what is already proved")
    wanted = parser.parse_args()
    unknown = [name for name in wanted.names if name not in everything]
    if unknown:
        parser.error(f"no proof is called {unknown[0]!r}; there are: {', '.join(everything)}")
    console, failed = Console(), False
    for name in wanted.names or everything:
        case = everything[name]
        with Progress(console=console) as progress:
            bar = progress.add_task(name, total=len(case.seeds))
            for done in prove(case, fresh=wanted.fresh):
                progress.update(bar, completed=done)
        result = kept(case)
        assert result is not None
        console.print(f"{name}: {case.claim}")
        for figure, value in result["figures"].items():
            console.print(f"  {figure}: {value:.4g}")
        for miss in result["misses"]:
            console.print(f"  [bold]MISSED[/bold] {miss}")
            failed = True
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
