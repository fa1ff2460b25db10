"""Files of a job folder to the facts that bring them in."""

from __future__ import annotations

import hashlib
import mimetypes
from collections.abc import Mapping

from plumbmark.model.fact import Draft, FactKind

_MEDIA = {".csv": "text/csv", ".toml": "application/toml", ".geojson": "application/geo+json"}


def facts_of_files(files: Mapping[str, bytes], job: str, at: str, by: str) -> list[Draft]:
    """One fact for each file, laid in whole: folded again they give the same bytes.

    Parameters
    ----------
    files : mapping of str to bytes
        By name in the job folder.
    job : str
        Id of the job.
    at : str
        When they are brought in, ISO 8601 with offset.
    by : str
        Who does it.

    Returns
    -------
    list of Draft
        The content of each is to be kept under its SHA-256.
    """
    drafts = []
    for name, data in sorted(files.items()):
        payload = {
            "name": name,
            "sha256": hashlib.sha256(data).hexdigest(),
            "size": len(data),
            "media": _media(name),
        }
        drafts.append(Draft(job, FactKind.FILE, payload, at, by))
    return drafts


def _media(name: str) -> str:
    suffix = name[name.rfind(".") :].lower() if "." in name else ""
    return _MEDIA.get(suffix) or mimetypes.types_map.get(suffix, "application/octet-stream")
