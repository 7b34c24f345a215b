# `make demo` and `make test` do all the set-up on a machine that has Python 3.11 or newer and nothing else.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: demo test check format docs validate validate-full lock benchmark clean

demo: $(VENV)/run-installed
	$(BIN)/pullproof demo

test: $(VENV)/dev-installed
	$(BIN)/python -m pytest -n 2

# Everything that can be said of the code without running it.
check: $(VENV)/dev-installed
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/python -m docs.reference --check

format: $(VENV)/dev-installed
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .

# The tables and the command reference in docs/ are made from the code.
docs: $(VENV)/dev-installed
	$(BIN)/python -m docs.reference

# The verdict on simulated cars, against the truth: a part of the published table, and all of it (hours).
validate: $(VENV)/dev-installed
	$(BIN)/python -m validation --subset --minutes 8

validate-full: $(VENV)/dev-installed
	$(BIN)/python -m validation --full

benchmark: $(VENV)/dev-installed
	$(BIN)/python benchmarks/reading.py

# Resolve the dependencies anew; one lock serves all platforms and all Python versions from 3.11.
lock: $(VENV)/bin/python
	$(BIN)/python -m pip install --quiet uv
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header \
		--upgrade pyproject.toml -o requirements/run.txt
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header \
		--upgrade pyproject.toml --extra mdf --extra postgresql --group dev -o requirements/dev.txt

clean:
	rm -rf $(VENV) build dist pullproof-demo .pytest_cache .mypy_cache .ruff_cache .hypothesis .import_linter_cache

$(VENV)/bin/python:
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "pullproof needs Python 3.11 or newer; set PYTHON=")'
	$(PYTHON) -m venv $(VENV)

$(VENV)/run-installed: requirements/run.txt pyproject.toml | $(VENV)/bin/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/run.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps -e .
	touch $@

$(VENV)/dev-installed: requirements/dev.txt pyproject.toml | $(VENV)/bin/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/dev.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	touch $@
