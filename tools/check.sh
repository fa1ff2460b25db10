#!/bin/sh
# Every check, the quick ones first, the whole suite of tests last. Stops at the first that fails.
set -eu
cd "$(dirname "$0")/.."
export OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1  # the work is many small fits: threads only get in each other's way
bin=.venv/bin
workers=${PYTEST_WORKERS:-$($bin/python -c 'import os; print(min(4, os.cpu_count() or 1))')}

step() { echo; echo "== $1"; shift; "$@"; }

step "lint (ruff)" $bin/ruff check .
step "format (ruff)" $bin/ruff format --check .
step "types (mypy --strict)" $bin/mypy
step "import rules" $bin/lint-imports
step "the page in the browser: types and tests" sh tools/page.sh test
step "examples in docstrings" $bin/python -m pytest -q --doctest-modules src
step "kernels with the compiler switched off" env NUMBA_DISABLE_JIT=1 $bin/python -m pytest -q -m kernel
step "the whole suite" $bin/python -m pytest -n "$workers" --dist loadfile
