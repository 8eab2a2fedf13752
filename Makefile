# Five commands: make demo, make test, make check, make verify, make bench. `make help` lists all.
# Needs Python 3.11 or newer, make and a C++ compiler; everything else is fetched into .venv by hash.

# Kept to what GNU make 3.81 knows, which is the one macOS brings.

.DELETE_ON_ERROR:
.DEFAULT_GOAL := help

VENV := .venv
BIN := $(VENV)/bin
NEWEST := .venv-newest
UV = $(BIN)/uv --quiet
# More of pytest's arguments: make test ARGS="-k pin"
ARGS ?=
# Two workers: what the smallest supported machine has.
JOBS ?= 2

# What the compiled package is made from. Python files are not here: they are used where they lie.
SOURCES := pyproject.toml CMakeLists.txt $(wildcard kernel/* proof_kernel/*)
STAMPS := $(VENV)/stamps

say = @printf '\n== %s\n' "$(1)"

.PHONY: help setup page demo test test-newest check verify bench docs format lock clean

help:
	@echo 'make demo         plan, verify, budget and try the small example product, and draw it; plan and verify the pump'
	@echo 'make test         the test-suite                    (ARGS="-k name" to choose)'
	@echo 'make check        lint, format, types and the import rule'
	@echo 'make verify       the checks against published values; the search on cells with a known answer'
	@echo 'make bench        measure speed, as ratios in one run'
	@echo 'make docs         check that the pages under docs/ hold together'
	@echo
	@echo 'make setup        everything the above need, into .venv (they call it themselves)'
	@echo 'make page         build the page from web/, if it has changed (Node.js comes from PyPI)'
	@echo 'make test-newest  the quick tests on the newest Python of this machine'
	@echo 'make format       let ruff rewrite layout and import order'
	@echo 'make lock         resolve the requirements anew and pin them by hash'
	@echo 'make clean        remove environments, build trees and caches'

# ---------------------------------------------------------------------------------------- set-up

setup: $(STAMPS)/dev

$(STAMPS)/venv: requirements/bootstrap.lock
	$(call say,Making a Python environment in $(VENV))
	@python=$$(tools/find-python) && echo "   with $$python" && "$$python" -m venv --clear $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes --only-binary :all: -r $<
	@mkdir -p $(STAMPS) && touch $@

# $(1): lock file. Installs exactly what it names, each file checked against its hash, then the package
# itself, in place. Build isolation is off so that the build tools come from the same lock.
define install
	$(call say,Installing the libraries of $(1) - every file checked against its hash)
	$(UV) pip sync --python $(BIN)/python --require-hashes --only-binary :all: $(1)
	$(call say,Compiling the kernel and installing Handfast in place)
	$(UV) pip install --python $(BIN)/python --no-deps --no-build-isolation --reinstall --editable .
	@env -u PYTHONDONTWRITEBYTECODE $(BIN)/python -c '$(LOADED)'
endef

# What most verbs load, loaded once so that its bytecode is kept: where the environment forbids writing any,
# every start would compile five hundred files again, which takes most of a second.
LOADED = import compileall, handfast, handfast.cli.app, handfast.cli.do_budget, handfast.cli.do_plan, \
	handfast.cli.do_plan_only, handfast.cli.do_settle, handfast.cli.do_show, handfast.cli.do_verify, \
	handfast.planning, handfast.proof, manifold3d, rich.progress, rich.table; \
	from ortools.sat.python import cp_model_helper; compileall.compile_dir(handfast.__path__[0], quiet=1)

# Enough to use Handfast.
$(STAMPS)/use: $(STAMPS)/venv requirements/runtime.lock $(SOURCES)
	$(call install,requirements/runtime.lock)
	@rm -f $(STAMPS)/dev && touch $@

# Enough to change it. It contains what use needs.
$(STAMPS)/dev: $(STAMPS)/venv requirements/dev.lock $(SOURCES)
	$(call install,requirements/dev.lock)
	@touch $(STAMPS)/use $@

# Open robot data beside it, for the checks that plan with arms of several makes.
$(STAMPS)/robots: $(STAMPS)/dev requirements/robots.lock
	$(call say,Installing open robot data - 125 MB)
	$(UV) pip install --python $(BIN)/python --require-hashes --only-binary :all: -r requirements/robots.lock
	@touch $@

# The page is built into the package and committed with it (docs/decisions/0008): who does not change web/ needs no Node.
page: $(STAMPS)/dev requirements/web.lock
	$(UV) pip install --python $(BIN)/python --require-hashes --only-binary :all: -r requirements/web.lock
	$(call say,Building the page from web/)
	@$(BIN)/python tools/build_page.py $(ARGS)

# CAD files of others beside it, for the checks that read drawings.
$(STAMPS)/drawings: $(STAMPS)/robots requirements/drawings.lock
	$(call say,Installing CAD files that others drew - 9 MB)
	$(UV) pip install --python $(BIN)/python --no-deps --require-hashes --only-binary :all: -r requirements/drawings.lock
	@touch $@

# ------------------------------------------------------------------------------------ using Handfast

demo: $(STAMPS)/use
	$(call say,The compiled kernel is in place)
	@$(BIN)/python -c 'import handfast._kernel as k; print("   instruction level:", k.level(), "of", *k.levels())'
	@tools/demo $(BIN)/handfast projects/first-fit projects/dosing-pump out/first-fit.html

# ---------------------------------------------------------------------------------- changing Handfast

test: $(STAMPS)/dev
	$(call say,Running the tests on $$($(BIN)/python --version))
	$(BIN)/python -m pytest -n $(JOBS) --dist loadgroup $(ARGS)

check: $(STAMPS)/dev
	$(call say,Lint)
	$(BIN)/ruff check
	$(call say,Format)
	$(BIN)/ruff format --check
	$(call say,Types)
	$(BIN)/mypy
	$(call say,Import rule)
	$(BIN)/lint-imports --no-logo

verify: $(STAMPS)/drawings
	$(call say,Trials killed at twenty random bytes of what they write and gone on with)
	$(BIN)/python -m tests.verification.killed_trials
	$(call say,Checking against published values)
	$(BIN)/python -m pytest tests/verification $(ARGS)
	$(call say,Every formula of the ledger broken once: its test has to turn red)
	$(BIN)/python -m tests.verification.broken_formulas
	$(call say,The search on 200 cells with a known answer, and against trying everything on 60)
	$(BIN)/python -m tests.verification.planted_cells
	$(call say,Every example project broken by one thing: the cause told; the change that is offered made and planned)
	$(BIN)/python -m tests.verification.broken_cells
	$(call say,Nine cells of the pump with a fault planted or none: named and repaired and gone on with; no bad product)
	$(BIN)/python -m tests.verification.planted_pump
	$(call say,24 projects with a number a little off: located findings or a plan that holds or reasons)
	$(BIN)/python -m tests.verification.mutated_plans
	$(call say,Features and mates in drawings of which all is known: 66 parts and 9 assemblies, twice)
	$(BIN)/python -m tests.verification.cad.run_corpus
	$(call say,The same parts as meshes at two deflections)
	$(BIN)/python -m tests.verification.cad.run_meshes
	$(call say,Thirty revisions of a drawing merged into a project with hand edits)
	$(BIN)/python -m tests.verification.cad.run_revisions
	$(call say,300 spoilt inputs through every rule)
	HANDFAST_MUTATIONS=100 $(BIN)/python -m pytest tests/checking/test_mutated.py
	$(call say,Runs killed at twenty places)
	HANDFAST_KILLS=20 $(BIN)/python -m pytest tests/cli/test_killed_run.py

bench: $(STAMPS)/dev
	$(call say,Measuring)
	@for script in benchmarks/*.py; do echo "-- $$script"; $(BIN)/python "$$script" || exit 1; done

docs: $(STAMPS)/dev
	$(call say,Checking the pages)
	@$(BIN)/python tools/check_links.py

format: $(STAMPS)/dev
	$(BIN)/ruff check --fix --select I
	$(BIN)/ruff format

# Another Python, another environment: made anew by the same lock, so that both are tested alike.
test-newest: $(STAMPS)/venv
	tools/test-newest $(BIN) $(NEWEST) -n $(JOBS) -m 'not slow' $(ARGS)

# -------------------------------------------------------------------------------------- requirements

# Locks name versions and hashes only: no address of a registry, nothing of this machine.
COMPILE = $(UV) pip compile --universal --python-version 3.11 --generate-hashes --no-emit-index-url \
	--no-emit-find-links --custom-compile-command 'make lock' --upgrade

lock: $(STAMPS)/venv
	$(COMPILE) requirements/bootstrap.in -o requirements/bootstrap.lock
	$(COMPILE) pyproject.toml --extra build -o requirements/runtime.lock
	$(COMPILE) pyproject.toml --all-extras -c requirements/runtime.lock -o requirements/dev.lock
	$(COMPILE) --group web -o requirements/web.lock
	$(COMPILE) --group robots -c requirements/dev.lock -o requirements/robots.lock
	$(COMPILE) --no-deps --group drawings -o requirements/drawings.lock

clean:
	rm -rf $(VENV) $(NEWEST) build dist out .mypy_cache .ruff_cache .pytest_cache .import_linter_cache
	find src tests -name __pycache__ -type d -prune -exec rm -rf {} +
