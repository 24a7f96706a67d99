"""`make bench`: every measured figure in one run. Ratios hold better than seconds on a shared machine."""

from collections.abc import Callable, Iterable

from tests import (
    bench_browser,
    bench_decode,
    bench_nights,
    bench_rights,
    bench_store,
    bench_watch,
    bench_ways,
    bench_years,
)

PARTS: tuple[tuple[str, Callable[[], Iterable[str]]], ...] = (
    ("Decoding", bench_decode.measure),
    ("Storage", bench_store.measure),
    ("Nights", bench_nights.measure),
    ("Signing in", bench_rights.measure),
    ("The whole watch", bench_watch.measure),
    ("Ways out", bench_ways.measure),
    ("Years", bench_years.measure),
    ("Browsers", bench_browser.measure),
)


def main() -> None:
    for title, measure in PARTS:
        print(f"\n{title}", flush=True)
        for line in measure():
            print(f"  {line}", flush=True)


if __name__ == "__main__":
    main()
