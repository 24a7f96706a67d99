"""Long statistical proofs: run by `python -m tests.proof`, their results kept in `results`."""
