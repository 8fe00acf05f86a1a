# cubital: everything a newcomer types. `make run` and `make test` do all the set-up themselves.
SHELL := /bin/bash
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed

.PHONY: run test check benchmark soak lock setup system clean

run: setup
	$(BIN)/cubital demo $(if $(PORT),--port $(PORT))

setup: $(STAMP)

$(STAMP): requirements.lock pyproject.toml
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	test -x $(BIN)/uv || PIP_CONFIG_FILE=/dev/null PIP_DISABLE_PIP_VERSION_CHECK=1 $(BIN)/pip install --quiet uv==0.13.9
	$(BIN)/uv pip install --quiet --require-hashes -r requirements.lock
	$(BIN)/uv pip install --quiet --no-deps --no-build-isolation -e .
	touch $(STAMP)

system:
	bash tools/system-packages.sh

check: setup
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/python -m mypy
	$(BIN)/lint-imports

test: setup system check
	$(BIN)/pytest -n 2 --dist loadfile

benchmark: setup
	$(BIN)/python -m benchmarks

soak: setup system
	$(BIN)/pytest -n 2 -m soak

lock:
	$(BIN)/uv pip compile --quiet --universal --generate-hashes --group dev pyproject.toml -o requirements.lock

clean:
	rm -rf $(VENV) .mypy_cache .ruff_cache .pytest_cache .import_linter_cache
