"""The library that GeoParquet needs, which is only installed where it was asked for."""

from __future__ import annotations

from typing import Any

from plumbmark.base.errors import PlumbmarkError


class MissingLibraryError(PlumbmarkError, ImportError):
    """A library that only one kind of file needs is not installed."""


def arrow() -> tuple[Any, Any]:
    """The modules `pyarrow` and `pyarrow.parquet`.

    Raises
    ------
    MissingLibraryError
        Where pyarrow is not installed.
    """
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError as error:
        raise MissingLibraryError(
            "GeoParquet needs the library pyarrow, which is not installed: "
            "pip install 'plumbmark[geoparquet]', or choose another kind of file"
        ) from error
    return pyarrow, pyarrow.parquet
