"""`python -m plumbmark.web.openapi` writes the schema of the API, the same from the same code."""

from __future__ import annotations

import json
import sys

from plumbmark.web.server import routes
from plumbmark.web.settings import Settings


def schema_text() -> str:
    """The schema of the API as text of a JSON file."""
    return json.dumps(routes(Settings()).openapi(), indent=1, sort_keys=True, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    sys.stdout.write(schema_text())
