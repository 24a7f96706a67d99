"""A fixed slice of every long proof is repeated, and the results that stand beside it are judged."""

import pytest

from tests.proof.harness import Case, cases, kept

PROVED = [case for case in cases() if case.whole]
SLICES = [pytest.param(case, seed, id=f"{case.name}-{seed}") for case in PROVED for seed in case.slice]
EVERY = [pytest.param(case, id=case.name) for case in PROVED]


@pytest.mark.parametrize(("case", "seed"), SLICES)
def test_a_part_done_again_gives_what_the_results_say(case: Case, seed: int) -> None:
    results = kept(case)
    assert results is not None, f"run: python -m tests.proof {case.name}"
    stood = dict(zip(results["seeds"], results["rows"], strict=True))[seed]

    again = case.run(seed)

    assert again.keys() == stood.keys()
    for name, value in stood.items():
        expected = (
            value if value is None or isinstance(value, str) else pytest.approx(value, rel=1e-6, abs=1e-6)
        )
        assert again[name] == expected, (
            f"{name} of seed {seed} is no longer what was proved: run python -m tests.proof {case.name}"
        )


@pytest.mark.parametrize("case", EVERY)
def test_the_results_are_whole_and_hold_what_is_claimed(case: Case) -> None:
    """The figures are worked out again from the rows, so that nobody need believe the file's own."""
    results = kept(case)
    assert results is not None, f"run: python -m tests.proof {case.name}"

    assert results["seeds"] == list(case.seeds)
    figures = case.figures(results["rows"])
    assert figures == pytest.approx(results["figures"])
    assert case.misses(figures) == []
