# make help shows the targets. Everything happens in .venv; nothing is installed elsewhere.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
.DEFAULT_GOAL := help
.PHONY: help demo demos test lint bench clean

help:  ## this list
	@grep -hE '^[a-z]+:.*##' $(MAKEFILE_LIST) | sed 's/:.*## /\t/' | expand -t 10

demo: $(VENV)/.ready  ## run the first demo lamp and say where its report lies
	$(BIN)/derate run sims/cycle_front_lamp.toml --out out/cycle_front_lamp

demos: $(VENV)/.ready  ## run every demo lamp (one of them hunts, on purpose)
	for lamp in cycle_front_lamp stage_wash hand_lamp hunting_spot workshop_light \
	  keyring_colours; do \
	  $(BIN)/derate run sims/$$lamp.toml --out out/$$lamp; [ $$? -lt 2 ] || exit 1; done

test: $(VENV)/.ready-dev  ## the whole test run: lint, types, unit, published, property, firmware
	$(BIN)/python -m tests.warm
	$(BIN)/python -m pytest -q -n 2 --dist worksteal

lint: $(VENV)/.ready-dev  ## style and types only
	$(BIN)/ruff check .
	$(BIN)/mypy

bench: $(VENV)/.ready-dev  ## measure speeds on this machine, print them as JSON
	for script in tests/speed/bench_*.py; do \
	  $(BIN)/python -m $$(echo $${script%.py} | tr / .) || exit 1; done

clean:  ## remove the virtual environment and everything made
	rm -rf $(VENV) out build dist .pytest_cache .mypy_cache .ruff_cache .hypothesis

$(BIN)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	  { echo "derate needs Python 3.11 or newer; name one with: make PYTHON=python3.12 ..."; exit 1; }
	$(PYTHON) -m venv $(VENV)

$(VENV)/.ready: pyproject.toml | $(BIN)/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -e '.[compiler]'
	@touch $@

$(VENV)/.ready-dev: pyproject.toml | $(BIN)/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -e '.[dev]'
	@touch $@ $(VENV)/.ready
