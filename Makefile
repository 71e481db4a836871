# Two commands: make demo, make test. Everything lives in .venv; delete it to start afresh.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed

.PHONY: demo test check clean

demo: $(STAMP)
	$(BIN)/launchside make sample_project
	@echo "The finished episode is in sample_project/out/ (start with episode.mp4 and report.html)."

test: $(STAMP)
	PATH="$(CURDIR)/$(BIN):$$PATH" scripts/check

check: $(STAMP)
	PATH="$(CURDIR)/$(BIN):$$PATH" scripts/check quick

$(STAMP): pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --upgrade pip
	$(BIN)/python -m pip install --quiet -e ".[dev]"
	@touch $@

clean:
	rm -rf $(VENV) sample_project/work sample_project/out
