#!/usr/bin/env bash
# Everything that must be true of a commit, in order; stops at the first thing that is not.
# PYTHON is the interpreter of an environment with the test group installed: `make test` gives it.
set -euo pipefail
cd "$(dirname "$0")/.."
export PATH="$PATH:/usr/sbin:/sbin"
PYTHON=${PYTHON:-.venv/bin/python}

section() {
    printf '\n==== %s ====\n' "$1"
}

section "programs: mosquitto, chromium, systemd"
bash tests/packages.sh mosquitto:mosquitto chromium:chromium systemd-analyze:systemd

section "style (ruff)"
"$PYTHON" -m ruff check .
"$PYTHON" -m ruff format --check .

section "types (mypy)"
"$PYTHON" -m mypy

section "layers (import-linter)"
"$PYTHON" -c 'from importlinter.cli import lint_imports_command; lint_imports_command()'

section "tests (pytest)"
results=$(mktemp)
trap 'rm -f "$results"' EXIT
"$PYTHON" -m pytest -n 2 --dist worksteal --durations=10 --junit-xml="$results" </dev/null
"$PYTHON" - "$results" <<'CHECK'
import sys
import xml.etree.ElementTree as xml

skipped = [
    f"{case.get('classname')}.{case.get('name')}"
    for case in xml.parse(sys.argv[1]).iter("testcase")
    if case.find("skipped") is not None
]
if skipped:
    sys.exit("These tests were skipped, and none may be:\n" + "\n".join(skipped))
CHECK

section "all well"
