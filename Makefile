# The commands of the project. `make demo` and `make test` need Python 3.11 or later with venv, and nothing else.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: demo test install install-test check bench proof traces clean

demo: $(VENV)/.demo
	$(BIN)/ebbwatch demo $(ARGS)

install: $(VENV)/.installed

install-test: $(VENV)/.test

$(BIN)/python:
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --upgrade pip

$(VENV)/.installed: pyproject.toml | $(BIN)/python
	$(BIN)/python -m pip install --quiet --editable .
	touch $@

$(VENV)/.demo: pyproject.toml | $(BIN)/python
	$(BIN)/python -m pip install --quiet --editable '.[demo]'
	touch $@

$(VENV)/.test: pyproject.toml | $(BIN)/python
	$(BIN)/python -m pip install --quiet --editable '.[demo]' --group test
	touch $@

test: $(VENV)/.test
	PYTHON=$(BIN)/python bash tests/run.sh

bench: $(VENV)/.test
	$(BIN)/python -m tests.bench $(ARGS)

proof: $(VENV)/.test
	$(BIN)/python -m tests.proof $(ARGS)

# The cells of the proof `cells`, in an environment of their own: `make traces ARGS=anchorage`.
traces:
	$(PYTHON) -m venv build/traces
	build/traces/bin/python -m pip install --quiet --upgrade pip
	build/traces/bin/python -m pip install --quiet --group traces
	build/traces/bin/python tests/proof/traces/recipe.py $(ARGS)

clean:
	rm -rf $(VENV) build *.egg-info
