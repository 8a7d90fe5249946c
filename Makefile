# Two targets are all a newcomer needs: make demo, make test. Both set up .venv first.
PYTHON ?= python3
BIN := .venv/bin

.PHONY: setup demo test serve bench lint style types audit clean lock

setup: .venv/ready

# Compiled by all processors, where pip would take one; some packages hold files for other Pythons.
.venv/ready: requirements.lock pyproject.toml
	$(PYTHON) -m venv .venv
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-compile -r requirements.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	$(BIN)/python -m compileall -qq -j 0 .venv/lib || true
	$(BIN)/python -m compileall -q -j 0 schemas service worker
	@touch $@

demo: setup
	@$(BIN)/reclamp check examples/valve_body/part.step examples/valve_body/plan.json --out out/demo; code=$$?; \
	echo; echo "Written: out/demo/report.json and out/demo/stages/*.step"; exit $$code

# The types are checked beside the tests, by the processor that these leave free; what was found is printed after them.
test: setup style
	@types=$$(mktemp); $(BIN)/mypy >$$types 2>&1 & checking=$$!; \
	$(BIN)/python -m pytest -n 3 --dist loadfile --no-loadscope-reorder; tests=$$?; \
	wait $$checking; wrong=$$?; cat $$types; rm -f $$types; exit $$((tests ? tests : wrong))

lint: style types

style: setup
	$(BIN)/ruff check .
	$(BIN)/ruff format --check --quiet .
	$(BIN)/lint-imports

types: setup
	$(BIN)/mypy

# Known vulnerabilities of the pinned packages; what the index has no record of is listed as not audited.
audit: setup
	$(BIN)/pip-audit --requirement requirements.lock --no-deps --disable-pip --progress-spinner off

serve: setup
	$(BIN)/reclamp serve

bench: setup
	$(BIN)/python -m bench

lock:
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --all-extras --no-header --no-annotate \
		--no-emit-index-url --no-emit-find-links pyproject.toml -o requirements.lock

clean:
	rm -rf .venv out
