"""Photographs of a job: the pictures in its folder `photos`, made small, and nothing else that is in them."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Final

from plumbmark.model.finding import Finding, Severity

FOLDER: Final = "photos"
ENDINGS: Final = (".jpg", ".jpeg", ".png")
MOST: Final = 60
_SIDE: Final = 1600
_MAX_PIXELS: Final = 120_000_000
_MAX_BYTES: Final = 64 * 1024 * 1024


def read_photographs(folder: Path) -> tuple[list[tuple[str, bytes]], list[Finding]]:
    """The photographs of a job as JPEG, turned upright, 1600 pixels at most.

    Parameters
    ----------
    folder : Path
        Of the job.

    Returns
    -------
    photographs : list of (str, bytes)
        File names in order, each with its picture. Where it was taken and by what is left out: a report is
        handed on, and a photograph must not say more than it shows.
    findings : list of Finding
        A warning for each file that could not be read, and for those beyond the first `MOST`.
    """
    where = folder / FOLDER
    if not where.is_dir():
        return [], []
    names = sorted(p.name for p in where.iterdir() if p.suffix.lower() in ENDINGS and p.is_file())
    found, findings = [], []
    for name in names[:MOST]:
        picture = _small(where / name, folder)
        if isinstance(picture, bytes):
            found.append((name, picture))
        else:
            findings.append(Finding(Severity.WARNING, f"{FOLDER}/{name}", picture))
    if len(names) > MOST:
        what = f"has {len(names):,} pictures, and the first {MOST} by name are shown"
        findings.append(Finding(Severity.WARNING, FOLDER, what))
    return found, findings


def _small(path: Path, folder: Path) -> bytes | str:
    """The picture, or why there is none."""
    from PIL import Image, ImageOps

    if not path.resolve().is_relative_to(folder.resolve()):
        return "is a link that leaves the job folder, so it is not shown"
    if path.stat().st_size > _MAX_BYTES:
        return f"is larger than {_MAX_BYTES // 2**20} MiB, so it is not shown"
    try:
        with Image.open(path, formats=("JPEG", "PNG")) as picture:
            if picture.width * picture.height > _MAX_PIXELS:
                return f"has more than {_MAX_PIXELS:,} pixels, so it is not shown"
            picture.draft("RGB", (_SIDE, _SIDE))
            upright = ImageOps.exif_transpose(picture).convert("RGB")
            upright.thumbnail((_SIDE, _SIDE))
            out = io.BytesIO()
            Image.frombytes("RGB", upright.size, upright.tobytes()).save(out, "JPEG", quality=80)
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        return f"cannot be read as a picture ({str(error)[:100]}), so it is not shown"
    return out.getvalue()
