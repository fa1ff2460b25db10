#!/bin/sh
# Make .venv from a hashed lock and install plumbmark into it.
#
#   tools/environment.sh run     what plumbmark needs to run            (requirements.lock)
#   tools/environment.sh test    the same and what its checks need      (requirements-test.lock)
#
# Needs Python 3.11 or newer with venv, and nothing else. PYTHON=... names another interpreter.
# Does nothing, in no time, when the environment already stands as the locks say, and the page as browser/ says.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
cd "$here/.."
kind=${1:-run}
case $kind in
    run)  # what the checks were set up in runs it as well
        [ ! -f .venv/made-from-test ] || exec sh "$here/environment.sh" test
        lock=requirements.lock ;;
    test) lock=requirements-test.lock ;;
    *) echo "environment.sh: '$kind' is not a kind of environment: run or test" >&2; exit 2 ;;
esac

say() { echo "environment: $*" >&2; }

# What the environment was made from: the lock, the package's own metadata, and where it stands
# (a virtual environment cannot be moved).
mark=$(cat "$lock" requirements.lock pyproject.toml | cksum)" $PWD ${PYTHON:-}"
stamp=.venv/made-from-$kind
if [ "$(cat "$stamp" 2>/dev/null)" = "$mark" ] && .venv/bin/python -c '' 2>/dev/null; then
    exec sh "$here/page.sh" build
fi

# --- an interpreter -------------------------------------------------------------------------------------
recent() { "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; }
python=
for candidate in ${PYTHON:-python3 python3.13 python3.12 python3.11 python}; do
    if recent "$candidate"; then python=$candidate; break; fi
done
if [ -z "$python" ]; then
    say "no Python 3.11 or newer found${PYTHON:+ (looked at PYTHON=$PYTHON)}."
    say "Install one (Debian, Ubuntu: apt-get install python3 python3-venv) or name it: make PYTHON=/path/to/python3 ..."
    exit 1
fi
if ! "$python" -c 'import ensurepip, venv' 2>/dev/null; then
    version=$("$python" -c 'import sys; print("%d.%d" % sys.version_info[:2])')
    say "$python (Python $version) has no venv with pip, so no environment can be made with it."
    say "Install it (Debian, Ubuntu: apt-get install python3-venv, or python$version-venv) and run make again."
    exit 1
fi

# --- the installer --------------------------------------------------------------------------------------
# uv is quick; where it cannot be had, pip does the same from the same hashed lock, more slowly.
if ! .tools/bin/uv --version >/dev/null 2>&1 \
        || [ "$(cat .tools/made-from 2>/dev/null)" != "$(cksum < tools/installer.lock) $PWD" ]; then
    rm -rf .tools
    if "$python" -m venv .tools \
            && .tools/bin/python -m pip install --quiet --require-hashes -r tools/installer.lock; then
        echo "$(cksum < tools/installer.lock) $PWD" > .tools/made-from
    else
        say "uv could not be installed; going on with pip, which takes about a minute longer."
    fi
fi

# uv does not read pip's settings: hand them over, so that both look where this machine is told to look.
# Every file is checked against the lock's hashes wherever it came from.
setting() {
    .tools/bin/python -m pip config list 2>/dev/null | .tools/bin/python -c '
import ast, sys
wanted, found = sys.argv[1], {}
for row in sys.stdin:
    key, _, value = row.strip().partition("=")
    where, _, name = key.rpartition(".")
    if name == wanted:
        found[{"global": 0, "install": 1}.get(where, 2)] = ast.literal_eval(value)
if found:
    print(" ".join(str(found[max(found)]).split()))' "$1"
}
hand_over() {  # hand_over UV_VARIABLE pip-setting [separator]
    eval "already=\${$1:-}"
    [ -z "$already" ] || return 0
    value=$(setting "$2")
    [ -n "$value" ] || return 0
    [ -z "${3:-}" ] || value=$(printf %s "$value" | tr ' ' "$3")
    export "$1=$value"
}

install() {  # install ARGUMENTS: into .venv
    if [ -x .tools/bin/uv ]; then
        .tools/bin/uv --quiet pip install --python .venv/bin/python "$@"
    else
        .venv/bin/python -m pip install --quiet --disable-pip-version-check "$@"
    fi
}

# --- the environment ------------------------------------------------------------------------------------
if ! .venv/bin/python -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null \
        || [ "$(cat .venv/made-by 2>/dev/null)" != "$PWD ${PYTHON:-}" ]; then
    rm -rf .venv
    "$python" -m venv .venv
    echo "$PWD ${PYTHON:-}" > .venv/made-by
fi
rm -f .venv/made-from-*
if [ -x .tools/bin/uv ]; then
    hand_over UV_DEFAULT_INDEX index-url
    hand_over UV_INDEX extra-index-url
    hand_over UV_FIND_LINKS find-links ,
    hand_over SSL_CERT_FILE cert
    export UV_INDEX_STRATEGY="${UV_INDEX_STRATEGY:-unsafe-best-match}"  # as pip does; the hashes decide
    export UV_NO_PROGRESS=1 UV_PYTHON_DOWNLOADS=never
fi
say "installing from $lock ..."
install --require-hashes -r "$lock"
install --no-deps --no-build-isolation --editable .
echo "$mark" > "$stamp"
say "ready: .venv"
