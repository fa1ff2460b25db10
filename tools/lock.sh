#!/bin/sh
# Write requirements.lock and requirements-test.lock anew from pyproject.toml: every version pinned, every
# file by its hash, one lock for all supported Pythons, and no address of where the files came from.
#
#   tools/lock.sh              keep the versions that still fit
#   tools/lock.sh --upgrade    take the newest that fit
set -eu
cd "$(dirname "$0")/.."
compile() {
    .tools/bin/uv --quiet pip compile pyproject.toml --universal --generate-hashes --python-version 3.11 \
        --no-header --no-emit-index-url --no-emit-find-links "$@"
}
compile --group build -o requirements.lock "$@"
compile --group build --group test -c requirements.lock -o requirements-test.lock "$@"
