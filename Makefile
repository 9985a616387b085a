# The one door for people and for CI. Every target does its own set-up.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
WORKERS ?= 2

.DEFAULT_GOAL := help
.PHONY: help core app demo rehearse test bench docs clean
CORE := src/wetfront/placing/core

help:  ## show this list
	@grep -E '^[a-z]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/^([a-z]+):.*## (.*)/  make \1\t\2/' | expand -t 16

$(VENV)/.ready: requirements-dev.lock pyproject.toml tools/make-venv
	tools/make-venv $(PYTHON) $(VENV) requirements-dev.lock
	@touch $@

$(VENV)/.core: $(VENV)/.ready $(wildcard $(CORE)/*.[ch]) $(CORE)/build.py
	$(BIN)/python $(CORE)/build.py
	@touch $@

core: $(VENV)/.core  ## build the simulator's compiled core (without a compiler: plain Python is used)

# Node comes with the locked packages, so that every machine builds the same app.
NPM := cd ui && PATH="$(CURDIR)/$(BIN):$$PATH" npm
APP_SOURCES := $(shell find ui/src ui/public ui/tests -type f) ui/index.html ui/vite.config.ts ui/svelte.config.js ui/tsconfig.json

$(VENV)/.node: $(VENV)/.ready ui/package-lock.json ui/package.json ui/.npmrc
	$(NPM) ci --no-audit --no-fund --loglevel=error
	@touch $@

$(VENV)/.app: $(VENV)/.node $(APP_SOURCES)
	$(NPM) run --silent build
	@touch $@

app: $(VENV)/.app  ## build the field app, which the server shows at its address

# Exit code 1 of a plan says that no pour of the sheet may go ahead: an answer, not a failure.
demo: $(VENV)/.core  ## plan the three invented pours of examples/tarnwick, read the slab's tickets, into demo-plans/
	$(BIN)/wetfront plan examples/tarnwick/raft.toml --out demo-plans/raft || test $$? -eq 1
	$(BIN)/wetfront plan examples/tarnwick/slab.toml --out demo-plans/slab || test $$? -eq 1
	$(BIN)/wetfront tickets examples/tarnwick/slab.toml examples/tarnwick/delivery-tickets-slab.csv \
		--log examples/tarnwick/day-log-slab.csv --in-place-m3 216.9 --out demo-plans/slab-tickets
	$(BIN)/wetfront plan examples/tarnwick/wall.toml --out demo-plans/wall || test $$? -eq 1

rehearse: $(VENV)/.core $(VENV)/.app  ## play the invented slab's day through a server of its own: watch it in five minutes
	$(BIN)/wetfront rehearse

test: $(VENV)/.core $(VENV)/.app  ## format check, lint, types, then every test, the field app's in a real browser
	tools/need-chromium
	$(BIN)/ruff format --check src tests benchmarks
	$(BIN)/ruff check src tests benchmarks
	$(BIN)/mypy
	$(NPM) run --silent check
	$(NPM) run --silent test
	$(BIN)/pytest -n $(WORKERS)

bench: $(VENV)/.core  ## time the workloads, as ratios in one run
	$(BIN)/python -m benchmarks

docs: $(VENV)/.ready  ## write the generated pages: calculations, schemas, table of keys
	$(BIN)/wetfront docs docs/calculations
	$(BIN)/wetfront schema --all docs

clean:  ## remove the environment and what the demo wrote
	rm -rf $(VENV) demo-plans ui/node_modules src/wetfront/api/app_files $(CORE)/libpour.* $(CORE)/pour.dll
