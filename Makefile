# Everything runs in a virtual environment made on demand; `make VENV=elsewhere test` puts it elsewhere.
PYTHON ?= python3
VENV ?= .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready

# The arrays are small: threads inside numpy only get in each other's way.
export OMP_NUM_THREADS = 1
export OPENBLAS_NUM_THREADS = 1

.PHONY: help demo test lint bench fuzz clean

help:
	@echo "make demo    read, log and compare the sample recordings, draw figures, write a page"
	@echo "make test    run the tests"
	@echo "make lint    check style and types"
	@echo "make bench   measure accuracy and coverage with full counts (long)"
	@echo "make fuzz    read ten thousand damaged files, kill two hundred who log (long)"
	@echo "make clean   remove the virtual environment and what tools left behind"

$(READY): pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[dev]'
	@touch $@

demo: $(READY)
	$(BIN)/roomir demo

test: $(READY)
	$(BIN)/python -m pytest -n 2

lint: $(READY)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

bench: $(READY)
	$(BIN)/python -m tests.benchmarks

fuzz: $(READY)
	$(BIN)/python -m tests.fuzz

clean:
	rm -rf $(VENV) .pytest_cache .mypy_cache .ruff_cache .hypothesis .import_linter_cache demo-out
