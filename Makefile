# Two commands take a bare machine to the work: `make demo` and `make test`.
# Needs Python 3.11 or newer with venv, make and git. PYTHON=/path/to/python3 names another interpreter.
.POSIX:
.PHONY: help demo test fast environment environment-test lock format clean

help:
	@echo 'make demo     sweep, hook-up plan, answer, marks, dig check, report and files of an example, to out/demo'
	@echo 'make test     every check: linters, types, import rules, doctests, the whole suite of tests'
	@echo 'make fast     the tests that take no longer than a few seconds each, for work in progress'
	@echo 'make format   put the code in the house form'
	@echo 'make lock     write the two lock files anew from pyproject.toml'
	@echo 'make clean    remove what was made: .venv, .tools, out, the page, caches'

environment:
	@sh tools/environment.sh run

environment-test:
	@sh tools/environment.sh test

demo: environment
	@.venv/bin/plumbmark sweep examples/alder-lateral --out out/demo
	@.venv/bin/plumbmark plan examples/alder-lateral --out out/demo
	@.venv/bin/plumbmark solve examples/alder-lateral --out out/demo
	@.venv/bin/plumbmark marks examples/alder-lateral --svg out/demo/marks.svg
	@.venv/bin/plumbmark clearance examples/alder-lateral
	@.venv/bin/plumbmark report examples/alder-lateral --pdf out/demo/report.pdf --html out/demo/report.html
	@.venv/bin/plumbmark export examples/alder-lateral out/demo/alder-lateral.gpkg
	@.venv/bin/plumbmark solve examples/cedar-street --out out/demo/cedar-street
	@echo
	@echo 'The first site in the field app, in a browser on this machine; type:'
	@echo '  .venv/bin/plumbmark serve --open examples/alder-lateral'

test: environment-test
	@sh tools/system.sh
	@sh tools/check.sh

fast: environment-test
	@.venv/bin/python -m pytest -q -m 'not slow and not browser'

format: environment-test
	@.venv/bin/ruff check --fix .
	@.venv/bin/ruff format .

lock: environment-test
	@sh tools/lock.sh

clean:
	rm -rf browser/node_modules src/plumbmark/web/static
	rm -rf .venv .tools out .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache .cache
	find src tests -name __pycache__ -type d -prune -exec rm -rf {} +
