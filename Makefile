# Two commands for a fresh machine: `make audit` and `make test`. Both make .venv first.

PYTHON ?= python3
VENV := .venv
ifeq ($(OS),Windows_NT)
BIN := $(VENV)/Scripts
else
BIN := $(VENV)/bin
endif

# Where a machine's image forbids it, every process that tests start would compile all of the program again.
export PYTHONDONTWRITEBYTECODE :=

.PHONY: audit test test-long fuzz check sample report pictures clean

# The sample is the last of nine invented trips: one trip alone settles little.
audit: $(VENV)/installed build/logbook.sqlite
	$(BIN)/auditor audit sample_images --logbook build/logbook.sqlite --into build/report

build/logbook.sqlite:
	$(BIN)/auditor demo build/ --record 8

# One process more than there are cores (tests/conftest.py), each with files of its own: tests of one file share
# what is slow to make. The order is that of tests/conftest.py.
test: $(VENV)/test
	$(BIN)/python -m pytest --numprocesses=logical --dist=loadfile --no-loadscope-reorder

# Every case of the tests that put faults in and try random input; `make test` tries a share of them.
test-long: $(VENV)/test
	$(BIN)/python -m pytest -m long --whole

# Input that is led by what it reaches, a minute in all; FUZZ_SECONDS=600 for each of the four targets.
FUZZ_SECONDS ?= 15
fuzz: $(VENV)/fuzz
	$(BIN)/python tests/fuzz/fuzz.py --seconds $(FUZZ_SECONDS)

# What CI runs beside the tests.
check: $(VENV)/dev
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy --strict

# Write sample_images anew, and the report of it that reports/ holds.
sample: $(VENV)/test
	$(BIN)/python -c "import shutil; shutil.rmtree('sample_images', ignore_errors=True)"
	$(BIN)/auditor demo sample_images
	$(MAKE) report

report: $(VENV)/test
	$(BIN)/python -c "import shutil; shutil.rmtree('build/sample', ignore_errors=True)"
	$(BIN)/auditor scan sample_images --logbook build/sample/logbook.sqlite
	$(BIN)/auditor measure --logbook build/sample/logbook.sqlite
	$(BIN)/python docs/sample_report.py

# The pictures of it that README shows.
pictures: $(VENV)/browser audit
	$(BIN)/python docs/images/take.py
	$(BIN)/python docs/images/first_screens.py
	$(BIN)/python docs/images/take_desk.py

$(VENV)/pip:
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --upgrade pip
	$(BIN)/python -c "open('$@', 'w').close()"

$(VENV)/installed: $(VENV)/pip pyproject.toml constraints.txt
	$(BIN)/python -m pip install --quiet --constraint constraints.txt --editable .
	$(BIN)/python -c "open('$@', 'w').close()"

$(VENV)/test: $(VENV)/pip pyproject.toml constraints.txt
	$(BIN)/python -m pip install --quiet --constraint constraints.txt --editable ".[test]"
	$(BIN)/python -c "open('$@', 'w').close()"

# What tests/browser needs besides: Chromium from the system, Playwright, and axe-core for accessibility.
$(VENV)/browser: $(VENV)/test
	$(BIN)/python -m pip install --quiet --constraint constraints.txt --editable ".[test,browser]"
	npm install --no-audit --no-fund --loglevel=error --prefix build/browser axe-core@4.14.1
	$(BIN)/python -c "open('$@', 'w').close()"

$(VENV)/fuzz: $(VENV)/test
	$(BIN)/python -m pip install --quiet --constraint constraints.txt --editable ".[test,fuzz]"
	$(BIN)/python -c "open('$@', 'w').close()"

$(VENV)/dev: $(VENV)/pip pyproject.toml constraints.txt
	$(BIN)/python -m pip install --quiet --constraint constraints.txt --editable ".[test,dev]"
	$(BIN)/python -c "open('$@', 'w').close()"

clean:
	$(BIN)/python -c "import shutil; shutil.rmtree('build', ignore_errors=True)"
