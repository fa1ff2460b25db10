"""Photographs of a job: the pictures in its folder `photos`, made small, and nothing else that is in them."""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
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
    names = [p.name for p in where.iterdir() if p.suffix.lower() in ENDINGS and p.is_file()]
    return _read(names, lambda name: _small(where / name, folder))


def photographs_in(files: Mapping[str, bytes]) -> tuple[list[tuple[str, bytes]], list[Finding]]:
    """The photographs among the files of a job that are in memory, as `read_photographs` gives them.

    Parameters
    ----------
    files : mapping of str to bytes
        By name; those in `photos` are looked at.

    Returns
    -------
    photographs : list of (str, bytes)
    findings : list of Finding
    """
    start = f"{FOLDER}/"
    names = [name.removeprefix(start) for name in files if name.startswith(start)]
    names = [name for name in names if "/" not in name and name.lower().endswith(ENDINGS)]
    return _read(names, lambda name: upright_picture(io.BytesIO(files[start + name])))


def _read(
    names: list[str], read: Callable[[str], bytes | str]
) -> tuple[list[tuple[str, bytes]], list[Finding]]:
    """The first pictures by name, and what there is to say of the others."""
    found, findings = [], []
    for name in sorted(names)[:MOST]:
        picture = read(name)
        if isinstance(picture, bytes):
            found.append((name, picture))
        else:
            findings.append(Finding(Severity.WARNING, f"{FOLDER}/{name}", picture))
    if len(names) > MOST:
        what = f"has {len(names):,} pictures, and the first {MOST} by name are shown"
        findings.append(Finding(Severity.WARNING, FOLDER, what))
    return found, findings


def _small(path: Path, folder: Path) -> bytes | str:
    """The picture of a file, or why there is none."""
    if not path.resolve().is_relative_to(folder.resolve()):
        return "is a link that leaves the job folder, so it is not shown"
    if path.stat().st_size > _MAX_BYTES:
        return f"is larger than {_MAX_BYTES // 2**20} MiB, so it is not shown"
    return upright_picture(path)


def upright_picture(source: Path | io.BytesIO) -> bytes | str:
    """The picture turned upright and made small, or why there is none."""
    from PIL import Image, ImageOps

    try:
        with Image.open(source, formats=("JPEG", "PNG")) as picture:
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
