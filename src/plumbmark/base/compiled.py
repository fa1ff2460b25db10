"""Compiled kernels: one decorator, and a cache that is neither stale nor in the way.

Numba keeps compiled code on disk so that the next process starts at once. Left to itself it looks only
at the file a function stands in: change a kernel, or a table, that the function uses from elsewhere, and
the old machine code is run. `kernel` therefore stamps each function with the digest of its own file *and*
of every kernel, array and constant it takes from outside, and so on down.

With ``NUMBA_DISABLE_JIT=1`` (coverage, debugging) kernels stay plain Python.
"""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any, ClassVar, TypeVar, cast

import numba
import numpy as np
from numba.core.caching import InTreeCacheLocator

_config = cast(Any, numba.config)

#: Division by zero gives infinity, as in numpy, not a test at every division; no entry from C is needed.
_OPTIONS: dict[str, Any] = {"nogil": True, "error_model": "numpy", "no_cfunc_wrapper": True}

F = TypeVar("F", bound=Callable[..., Any])

#: Source stamp of every kernel, by the name of its module and its own.
_stamps: dict[tuple[str, str], str] = {}


def _names(code: CodeType) -> set[str]:
    """Names that a function looks up, those of the functions nested in it included."""
    found = set(code.co_names)
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            found |= _names(constant)
    return found


def _file_digest(path: str) -> str:
    return hashlib.sha256(Path(path).read_bytes()).hexdigest()


def source_stamp(function: Callable[..., Any]) -> str:
    """Digest of all that a kernel's machine code depends on.

    Parameters
    ----------
    function : function
        Plain Python function, at the moment it is decorated.

    Returns
    -------
    str
        Changes whenever its file changes, or a kernel, array, number or module of ours that it uses.
    """
    digest = hashlib.sha256(_file_digest(function.__code__.co_filename).encode())
    for name in sorted(_names(function.__code__)):
        value = function.__globals__.get(name)
        python = getattr(value, "py_func", value)
        key = (str(getattr(python, "__module__", "")), str(getattr(python, "__qualname__", "")))
        if key in _stamps:
            part = _stamps[key]
        elif isinstance(value, np.ndarray):
            part = hashlib.sha256(np.ascontiguousarray(value).tobytes()).hexdigest() + str(value.shape)
        elif isinstance(value, (bool, int, float, complex, str, tuple)):
            part = repr(value)
        elif isinstance(value, ModuleType) and value.__name__.startswith("plumbmark"):
            part = _file_digest(str(value.__file__))
        else:
            continue
        digest.update(f"{name}={part};".encode())
    return digest.hexdigest()


def _writable(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


def cache_folders(source: Path) -> Iterator[Path]:
    """Where compiled code of a source file may be kept, best first.

    Parameters
    ----------
    source : Path
        The Python file.

    Yields
    ------
    Path
        ``NUMBA_CACHE_DIR`` if it is set, the ``__pycache__`` beside the file, the user's cache folder, and
        last a folder of this user's own among the temporary files.
    """
    name = "_".join(("plumbmark", hashlib.sha256(str(source.parent).encode()).hexdigest()[:16]))
    chosen = str(_config.CACHE_DIR)
    if chosen:
        yield Path(chosen) / name
    yield source.parent / "__pycache__"
    if "XDG_CACHE_HOME" in os.environ:
        yield Path(os.environ["XDG_CACHE_HOME"]) / name
    elif sys.platform == "win32" and "LOCALAPPDATA" in os.environ:
        yield Path(os.environ["LOCALAPPDATA"]) / "plumbmark" / name
    elif "HOME" in os.environ:
        yield Path(os.environ["HOME"]) / ".cache" / name
    user = str(os.getuid()) if hasattr(os, "getuid") else os.environ.get("USERNAME", "user")
    yield Path(tempfile.gettempdir()) / f"plumbmark-{user}" / name


class StampedLocator(InTreeCacheLocator):
    """Numba cache locator with our stamp and our choice of folder."""

    writable: ClassVar[dict[Path, Path | None]] = {}

    def __init__(self, py_func: Callable[..., Any], py_file: str) -> None:
        super().__init__(py_func, py_file)  # type: ignore[no-untyped-call]
        source = Path(py_file).resolve()
        if source.parent not in self.writable:
            self.writable[source.parent] = next(filter(_writable, cache_folders(source)), None)
        folder = self.writable[source.parent]
        if folder is None:
            raise OSError("no folder for compiled code can be written")
        self._cache_path = str(folder)
        self._stamp = source_stamp(py_func)

    def get_source_stamp(self) -> str:
        """Digest of the function's file and of all that it uses from outside."""
        return self._stamp

    @classmethod
    def from_function(cls, py_func: Callable[..., Any], py_file: str) -> StampedLocator | None:
        """A locator, or None where nothing can be written (then numba tries its own)."""
        if not os.path.exists(py_file):
            return None
        try:
            return cls(py_func, py_file)
        except OSError:
            return None


def kernel(function: F) -> F:
    """Compile a scalar or array function on first use, without the interpreter lock, and keep the code.

    Parameters
    ----------
    function : function
        Numeric code that numba understands. It must not be nested in another function.

    Returns
    -------
    function
        The compiled function (the plain one with ``NUMBA_DISABLE_JIT=1``). Where no folder can be written
        it still compiles, anew in each process.
    """
    return _compiled(function, _OPTIONS)


def summing_kernel(function: F) -> F:
    """A `kernel` whose sums may be taken in any order, so that all lanes of the processor are used.

    Results may differ in the last digits from plain Python and from another kind of processor, not from run
    to run. NaN and infinity keep their meaning.
    """
    return _compiled(function, _OPTIONS | {"fastmath": {"reassoc", "contract", "arcp", "nsz"}})


def _compiled(function: F, options: dict[str, Any]) -> F:
    _stamps[(function.__module__, function.__qualname__)] = source_stamp(function)
    before = _config.CACHE_LOCATOR_CLASSES
    _config.CACHE_LOCATOR_CLASSES = f"{__name__}.{StampedLocator.__name__}"
    try:
        return cast(F, numba.njit(cache=True, **options)(function))
    except RuntimeError as error:
        if "cannot cache" not in str(error):
            raise
        return cast(F, numba.njit(**options)(function))
    finally:
        _config.CACHE_LOCATOR_CLASSES = before
