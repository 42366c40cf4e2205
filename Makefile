# Two commands matter: `make verify` and `make test`. Both set themselves up.
PYTHON ?= python3
VENV   ?= .venv
BIN    := $(VENV)/bin
OUT    ?= out
GOLD   ?= ../shared/gold
FETCHED ?= ../shared/data/fetched
PAGES ?= $(FETCHED)/pages
TABLES ?= $(wildcard $(FETCHED)/fndds/survey.toml) tests/national/harbour.toml
CI     ?=

.DEFAULT_GOAL := help
.PHONY: help verify report test soak lint format lock clean bench-lines bench-fit bench-tables bench-parse bench-profile bench-weigh bench-recipes bench-pages bench-spoken bench-snapshot bench-bulk bench-cold bench-overview bench-review bench-slips bench-habits licences sbom audit chromium

help:  ## what there is to make
	@grep -hE '^[a-z-]+:.*##' $(MAKEFILE_LIST) | sed -E 's/:.*## /\t/' | expand -t 18

# --- set-up: one stamp a lock file, so a second call costs nothing -------------------------
$(BIN)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	  { echo "Steelyard needs Python 3.11 or newer; try: make $(MAKECMDGOALS) PYTHON=python3.12"; exit 2; }
	@$(PYTHON) -m venv $(VENV)

$(VENV)/.run: requirements/run.lock requirements/uv.lock pyproject.toml | $(BIN)/python
	@echo "Installing the locked packages (once) ..."
	@requirements/install.sh $(VENV) requirements/run.lock
	@touch $@

$(VENV)/.dev: requirements/dev.lock requirements/uv.lock pyproject.toml | $(BIN)/python
	@echo "Installing the locked packages for development (once) ..."
	@requirements/install.sh $(VENV) requirements/dev.lock
	@touch $@ $(VENV)/.run

chromium:  ## the browser of the page tests, by apt, when it is missing and we may install it
	@requirements/chromium.sh

# --- the main job --------------------------------------------------------------------------
verify: $(VENV)/.run  ## the main job on the embedded snapshot and the demo collection
	@$(BIN)/steelyard verify data/demo --out $(OUT)

report: verify  ## the same, then open the report
	@$(BIN)/python -m webbrowser -t "file://$(abspath $(OUT))/report.html"

# --- for contributors ----------------------------------------------------------------------
# Lint runs beside the tests and is shown after them; files go out in the order of conftest.py.
# Bytecode is kept whatever the environment says: the many processes of the tests start faster.
test soak: export PYTHONDONTWRITEBYTECODE =
test: $(VENV)/.dev chromium  ## the whole test suite with lint and types
	@said=$$(mktemp); $(MAKE) --no-print-directory lint >$$said 2>&1 & lint=$$!; failed=0; \
	$(BIN)/python -m pytest -n 2 --dist loadfile --no-loadscope-reorder || failed=1; \
	wait $$lint || failed=1; cat $$said; rm -f $$said; exit $$failed

soak: $(VENV)/.dev chromium  ## slow tests, fuzzing, and every property with all of its examples; prints the table of hostile inputs
	@STEELYARD_THOROUGH=1 $(BIN)/python -m pytest -n 2 --dist loadfile --no-loadscope-reorder \
		-m "soak or hypothesis" -o faulthandler_timeout=900 -o faulthandler_exit_on_timeout=true

lint: $(VENV)/.dev  ## ruff and mypy
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .
	@$(BIN)/mypy

format: $(VENV)/.dev  ## let ruff mend what it can
	@$(BIN)/ruff check --fix . ; $(BIN)/ruff format .

lock: $(VENV)/.dev  ## rewrite the lock files
	@PATH=$(abspath $(BIN)):$$PATH requirements/lock.sh --upgrade

bench-lines: $(VENV)/.dev  ## every figure of matching and weighing, each with how blind it is
	@$(BIN)/python benchmarks/lines.py $(GOLD)/lines.csv --tags --misses

bench-fit: $(VENV)/.dev  ## ranking and confidence fitted again and judged out of fold (writes nothing)
	@$(BIN)/python benchmarks/fit_match.py --outside $(GOLD)/lines.csv

bench-tables: $(VENV)/.dev  ## answering from a second table, alone and preferred (TABLES=mapping.toml ...)
	@$(BIN)/python benchmarks/tables.py $(TABLES) --outside $(GOLD)/lines.csv

bench-parse: $(VENV)/.dev  ## reading lines alone
	@$(BIN)/python benchmarks/parse.py $(GOLD)/lines.csv benchmarks/data/lines_uk.csv benchmarks/data/lines_us.csv

bench-profile: $(VENV)/.dev  ## profiles of foods against USDA's LanguaL codes
	@$(BIN)/python benchmarks/profiles.py $(FETCHED)/sr28-full $(FETCHED)/fndds/survey_foods.csv

bench-weigh: $(VENV)/.dev  ## weighing alone, the right food given
	@$(BIN)/python benchmarks/weigh.py --gold $(GOLD)/lines.csv

bench-recipes: $(VENV)/.dev  ## verdicts and explanations against recipes with known faults
	@$(BIN)/python benchmarks/recipes.py $(GOLD)/recipes

bench-pages: $(VENV)/.dev  ## computed beside stated energy over recipes of public pages (PAGES=folder)
	@$(BIN)/python benchmarks/pages.py $(PAGES)

bench-slips: $(VENV)/.dev  ## explanations on life-like slips, and whether they are as sure as they say
	@$(BIN)/python benchmarks/slips.py --recipes 600 --seeds kept-3 kept-4 --kinds

bench-habits: $(VENV)/.dev  ## habits found and slips named given them: own collections, then those in GOLD
	@$(BIN)/python benchmarks/habits.py $(GOLD)/habits

bench-spoken: $(VENV)/.dev  ## reading of spoken scripts, speaker by speaker
	@$(BIN)/python benchmarks/spoken.py benchmarks/data/spoken $(wildcard $(GOLD)/spoken)

bench-snapshot: $(VENV)/.dev  ## building a snapshot from a large generated bundle
	@$(BIN)/python benchmarks/snapshot.py

bench-bulk: $(VENV)/.dev  ## large collections against the plain approach and the floor
	@$(BIN)/python benchmarks/bulk.py

bench-review: $(VENV)/.dev  ## how long an answer on the review page takes in a collection of 1,000 recipes
	@$(BIN)/python benchmarks/review.py

bench-overview: $(VENV)/.dev  ## the report of a large collection: writing, size, first paint in Chromium
	@$(BIN)/python benchmarks/overview.py

bench-cold: $(VENV)/.dev  ## how long a run on one recipe takes to start
	@$(BIN)/python benchmarks/cold_start.py

licences sbom audit: $(VENV)/.dev  ## licence table, bill of materials, known vulnerabilities
	@requirements/supply.sh $(VENV) $@

clean:  ## remove what the targets made
	@rm -rf $(VENV) $(OUT) .pytest_cache .mypy_cache .ruff_cache .hypothesis build dist
