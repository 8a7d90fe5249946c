# Two targets are all a newcomer needs: make demo, make test. Both set up .venv first.
PYTHON ?= python3
BIN := .venv/bin

.PHONY: setup demo test serve bench lint audit clean lock

setup: .venv/ready

.venv/ready: requirements.lock pyproject.toml
	$(PYTHON) -m venv .venv
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -r requirements.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	$(BIN)/python -m compileall -q schemas service worker
	@touch $@

demo: setup
	@$(BIN)/reclamp check examples/valve_body/part.step examples/valve_body/plan.json --out out/demo; code=$$?; \
	echo; echo "Written: out/demo/report.json and out/demo/stages/*.step"; exit $$code

test: setup lint
	$(BIN)/python -m pytest -n 3 --dist loadfile

lint: setup
	$(BIN)/ruff check .
	$(BIN)/ruff format --check --quiet .
	$(BIN)/mypy
	$(BIN)/lint-imports

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
