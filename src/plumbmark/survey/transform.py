"""From one coordinate system to another: by which transformation, how good it is, and what is missing."""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from plumbmark.base.errors import CoordinateSystemError
from plumbmark.base.units import shown

FloatArray = NDArray[np.float64]

WGS84: Final = "EPSG:4326"
_PLAIN_FOOT_M: Final = 0.3048
_SURVEY_FOOT_M: Final = 1200.0 / 3937.0


@dataclass(frozen=True, slots=True)
class SystemWords:
    """A coordinate system as it must be named beside coordinates."""

    code: str
    name: str
    datum: str
    unit: str
    metres_per_unit: float | None


@dataclass(frozen=True, slots=True)
class Transformation:
    """A way from one system to another over one piece of ground.

    Attributes
    ----------
    source, target : SystemWords
    name : str
        As the register has it.
    accuracy_m : float or None, [m]
        What the register says of it; None where it says nothing, which is the case for a ballpark.
    missing : tuple of str
        Better transformations that are not at hand here, each with the grid file that it needs.
    """

    source: SystemWords
    target: SystemWords
    name: str
    accuracy_m: float | None
    missing: tuple[str, ...] = ()
    steps: Any = field(default=(), repr=False, compare=False)

    def __call__(self, first: FloatArray, second: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Coordinates in the target's system, easting (or longitude) first.

        Raises
        ------
        CoordinateSystemError
            If a point has no transformation.
        """
        x, y = np.full(first.shape, np.inf), np.full(first.shape, np.inf)
        for step in self.steps:
            left = ~(np.isfinite(x) & np.isfinite(y))
            if not left.any():
                break
            x[left], y[left] = step.transform(first[left], second[left])
        bad = np.flatnonzero(~(np.isfinite(x) & np.isfinite(y)))
        if bad.size:
            k = int(bad[0])
            raise CoordinateSystemError(
                f"there is no way from {self.source.code} to {self.target.code} for the place "
                f"{first[k]:.10g}, {second[k]:.10g}"
            )
        return x, y

    def words(self) -> str:
        """How the coordinates were come by, in a sentence."""
        good = "accuracy not known" if self.accuracy_m is None else f"accuracy {self.accuracy_m:g} m"
        return (
            f"Brought from {self.source.code}, {self.source.name}, to {self.target.code}, "
            f'{self.target.name}, by "{self.name}": {good}.'
        )

    def warnings(self) -> tuple[str, ...]:
        """What whoever uses the coordinates must know, empty where nothing is amiss."""
        said = []
        if self.accuracy_m is None:
            said.append(
                f"the coordinates in {self.target.code} are as good as nobody knows: the register states no "
                f"accuracy for the way from {self.source.code}; take it for metres at best"
            )
        said += [
            f"a better way from {self.source.code} to {self.target.code} was not at hand: {what}"
            for what in self.missing
        ]
        return tuple(said)


def system_words(code: str) -> SystemWords:
    """A system with its datum and unit.

    Parameters
    ----------
    code : str
        ``"local"``, or any two-dimensional projected or geographic system as ``"EPSG:…"``.

    Returns
    -------
    SystemWords

    Raises
    ------
    CoordinateSystemError
        If there is no such system or it is neither projected nor geographic.

    Examples
    --------
    >>> system_words("EPSG:2230").unit
    'US survey foot (1200/3937 m)'
    """
    if code == "local":
        name = "metres east and north of a stated point"
        return SystemWords("local", name, "none: the job's own grid", "metre", 1.0)
    crs = _crs(code)
    axis = crs.axis_info[0]
    factor = axis.unit_conversion_factor if crs.is_projected else None
    datum = crs.datum.name if crs.datum is not None else crs.geodetic_crs.name
    return SystemWords(code.upper(), crs.name, datum, _unit(axis.unit_name, factor), factor)


def transformation(source: str, target: str, first: FloatArray, second: FloatArray) -> Transformation:
    """The best way between two systems that is at hand here.

    Parameters
    ----------
    source, target : str
        ``"EPSG:…"``.
    first, second : float array, shape (n,)
        Easting and northing, or longitude and latitude, of the ground it is for, in the source's system.

    Returns
    -------
    Transformation

    Raises
    ------
    CoordinateSystemError
        If one of the systems does not exist or there is no way between them.
    """
    from pyproj.transformer import TransformerGroup

    one, other = _crs(source), _crs(target)
    with warnings.catch_warnings():  # what is missing is handed on, which says more than the warning does
        warnings.simplefilter("ignore", UserWarning)
        group: Any = TransformerGroup(one, other, always_xy=True, area_of_interest=_area(one, first, second))
    if not group.transformers:
        raise CoordinateSystemError(f"there is no way from {source} to {target}")
    best = group.transformers[0]
    accuracy = float(best.accuracy) if best.accuracy is not None and best.accuracy >= 0 else None
    missing = () if group.best_available else tuple(_missing(group.unavailable_operations))
    return Transformation(
        system_words(source), system_words(target), best.description, accuracy, missing, group.transformers
    )


def _missing(operations: Any) -> list[str]:
    said = []
    for operation in operations[:1]:
        grids = [grid.short_name for grid in operation.grids if not grid.available]
        good = f", accuracy {operation.accuracy:g} m" if operation.accuracy >= 0 else ""
        need = f" needs the grid file {', '.join(grids)}" if grids else ""
        said.append(f'"{operation.name}"{good}{need}; put it into {_grid_folder()} and run again')
    return said


def _grid_folder() -> str:
    return "the folder of grids that PROJ reads (python -m pyproj -v names it)"


def _area(crs: Any, first: FloatArray, second: FloatArray) -> Any:
    """Where the ground lies, for choosing among transformations; None where that cannot be said."""
    from pyproj import Transformer
    from pyproj.aoi import AreaOfInterest

    if not first.size:
        return None
    east = np.array([first.min(), first.max(), first.min(), first.max()])
    north = np.array([second.min(), second.min(), second.max(), second.max()])
    if not crs.is_geographic:
        into = Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True)
        east, north = into.transform(east, north)
    corners = [float(v) for v in (east.min(), north.min(), east.max(), north.max())]
    if not all(map(math.isfinite, corners)):
        return None
    return AreaOfInterest(*corners)


def _crs(code: str) -> Any:
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        crs = CRS.from_user_input(code) if code.upper().startswith("EPSG:") else None
    except CRSError:
        crs = None
    if crs is None:
        raise CoordinateSystemError(
            f'{shown(code)} is no system of the EPSG register (for example "EPSG:32631")'
        )
    if not (crs.is_projected or crs.is_geographic) or crs.is_compound or len(crs.axis_info) != 2:
        raise CoordinateSystemError(
            f"{shown(code)} ({crs.name}) is not a system of places in plan (a projected one, or "
            "longitude and latitude)"
        )
    return crs


def _unit(name: str, factor: float | None) -> str:
    if factor is None:
        return name
    if factor == 1.0:
        return "metre"
    if math.isclose(factor, _SURVEY_FOOT_M, rel_tol=1e-12):
        return "US survey foot (1200/3937 m)"
    if math.isclose(factor, _PLAIN_FOOT_M, rel_tol=1e-12):
        return "international foot (0.3048 m)"
    return f"{name} ({factor:.12g} m)"
