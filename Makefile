# Two commands: `make demo` and `make test` (lint, live and quick are its parts). Set-up runs by itself, once, and again when the pins change.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.ready
SCENARIO ?= clean
JOINTS ?= 200

.PHONY: setup demo test lint live quick bench clean

setup: $(STAMP)

$(STAMP): constraints.txt pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --constraint constraints.txt --editable '.[dev]'
	@touch $(STAMP)

demo: $(STAMP)
	@$(BIN)/python -m logger demo --scenario "$(SCENARIO)"

lint: $(STAMP)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports --no-cache

# All of them at once: what records live mostly waits, and goes before what only computes.
test: $(STAMP)
	@$(MAKE) --no-print-directory --jobs 3 --keep-going --output-sync=target live quick lint

live: $(STAMP)
	$(BIN)/python -m pytest tests/system -n 4 --dist worksteal

quick: $(STAMP)
	nice $(BIN)/python -m pytest tests --ignore tests/system -n 2 --dist worksteal

# Seeds from 2000000 on are for figures that are published; tuning uses those below 1000000.
bench: $(STAMP)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --constraint constraints.txt --editable '.[bench]'
	$(BIN)/python -m tests.bench.planning
	$(BIN)/python -m tests.bench.sealing
	$(BIN)/python -m tests.bench.records --joints $(JOINTS) --curves 6
	$(BIN)/python -m tests.bench.forwarding --joints 300
	$(BIN)/python -m tests.bench.forwarding --intake
	$(BIN)/python -m tests.bench.forwarding --fuzz 1000
	$(BIN)/python -m tests.bench.bus
	$(BIN)/python -m tests.bench.mutations
	$(BIN)/python -m tests.bench.monitor
	$(BIN)/python -m tests.bench.detection --joints $(JOINTS) --seed 2000000

clean:
	rm -rf $(VENV) build dist
