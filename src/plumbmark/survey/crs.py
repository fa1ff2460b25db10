"""Projected coordinate systems in metres, where they may be used, and the way into them from a GNSS.

pyproj takes a tenth of a second to import, so that only a job with a projected system pays for it.
"""

from __future__ import annotations

import re
import warnings
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plumbmark.base.errors import CoordinateSystemError
from plumbmark.base.units import shown

if TYPE_CHECKING:
    from pyproj import CRS, Transformer

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

WGS84: Final = 4326
AREA_MARGIN_DEG: Final = 0.01  # bounds of an area of use are written to two decimals
_CODE: Final = re.compile(r"EPSG:([0-9]{4,6})", re.IGNORECASE | re.ASCII)


@dataclass(frozen=True, slots=True)
class GridSystem:
    """A projected system that a job can use.

    `area_deg` is west, south, east, north of its area of use [degrees], None where the register has none;
    west is greater than east where the area spans the 180th meridian.
    """

    code: str
    name: str
    area_deg: tuple[float, float, float, float] | None
    crs: Any = field(repr=False, compare=False)


@lru_cache(maxsize=8)
def grid_system(code: str) -> GridSystem:
    """Look up a projected system in metres.

    Parameters
    ----------
    code : str
        ``"EPSG:"`` and a number.

    Returns
    -------
    GridSystem

    Raises
    ------
    CoordinateSystemError
        If there is no such system, or it is not projected, not in metres (the message names the system
        in metres to use instead), or does not count east and north.
    """
    match = _CODE.fullmatch(code)
    if match is None:
        raise CoordinateSystemError(
            f'{shown(code)} is not a coordinate system ("local", or for example "EPSG:32631")'
        )
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        crs = CRS.from_epsg(int(match[1]))
    except CRSError:
        raise CoordinateSystemError(f"{shown(code)} is not a system of the EPSG register") from None
    _check_kind(code, crs)
    _check_metres(code, crs)
    directions = {axis.direction.lower() for axis in crs.axis_info}
    if directions & {"west", "south"} and "east" not in directions:
        raise CoordinateSystemError(
            f"{shown(code)} ({crs.name}) counts west or south, and places are metres east and north"
            f"{_utm_hint(crs)}"
        )
    area = crs.area_of_use
    bounds = None if area is None else (area.west, area.south, area.east, area.north)
    return GridSystem(f"EPSG:{match[1]}", crs.name, bounds, crs)


def outside_area(system: GridSystem, easting_m: ArrayLike, northing_m: ArrayLike) -> BoolArray:
    """Which places lie outside the area where a system may be used.

    Parameters
    ----------
    system : GridSystem
    easting_m, northing_m : array_like, shape (n,), [m]

    Returns
    -------
    outside : bool array, shape (n,)
        All False where the register states no area.
    """
    easting, northing = (
        np.atleast_1d(np.asarray(easting_m, float)),
        np.atleast_1d(np.asarray(northing_m, float)),
    )
    if system.area_deg is None or not easting.size:
        return np.zeros(easting.shape, dtype=bool)
    longitude, latitude = _into_degrees(system).transform(easting, northing)
    return _outside(system, np.asarray(longitude), np.asarray(latitude))


def outside_area_deg(system: GridSystem, longitude_deg: ArrayLike, latitude_deg: ArrayLike) -> BoolArray:
    """As `outside_area`, for longitude and latitude [degrees], shape (n,)."""
    return _outside(system, np.asarray(longitude_deg, float), np.asarray(latitude_deg, float))


def from_longitude_latitude(
    system: GridSystem, longitude_deg: ArrayLike, latitude_deg: ArrayLike
) -> tuple[FloatArray, FloatArray, float]:
    """Grid coordinates of WGS 84 longitudes and latitudes, by the best transformation that is at hand.

    Parameters
    ----------
    system : GridSystem
    longitude_deg, latitude_deg : array_like, shape (n,), [degrees]

    Returns
    -------
    easting_m, northing_m : float array, shape (n,), [m]
        Infinite where no transformation reaches.
    accuracy_m : float, [m]
        What the register says of the transformation that was used; NaN where it says nothing.
    """
    longitude, latitude = np.asarray(longitude_deg, float), np.asarray(latitude_deg, float)
    easting, northing = np.full(longitude.shape, np.inf), np.full(longitude.shape, np.inf)
    good = (
        np.isfinite(longitude) & np.isfinite(latitude) & (abs(latitude) <= 90.0) & (abs(longitude) <= 180.0)
    )
    if not good.any():
        return easting, northing, float("nan")
    corners = (longitude[good].min(), latitude[good].min(), longitude[good].max(), latitude[good].max())
    west, south, east, north = (float(np.floor(v) if k < 2 else np.ceil(v)) for k, v in enumerate(corners))
    accuracy = float("nan")
    for transformer in _from_degrees(system, west, south, east, north):
        left = good & ~np.isfinite(easting)
        if not left.any():
            break
        easting[left], northing[left] = transformer.transform(longitude[left], latitude[left])
        if np.isfinite(easting[left]).any() and not accuracy >= transformer.accuracy:
            accuracy = transformer.accuracy if transformer.accuracy >= 0 else accuracy
    return easting, northing, accuracy


def scale_factor(system: GridSystem, easting_m: float, northing_m: float) -> float:
    """Grid length per ground length at one place; 1 within 0.001 in any system made for surveying.

    NaN where the projection says nothing of it.
    """
    from pyproj import Proj, Transformer

    to_geodetic = Transformer.from_crs(system.crs, system.crs.geodetic_crs, always_xy=True)
    longitude, latitude = to_geodetic.transform(easting_m, northing_m)
    factors = Proj(system.crs).get_factors(longitude, latitude, errcheck=False)
    area = abs(float(factors.areal_scale))
    return area**0.5 if np.isfinite(area) else float("nan")


@lru_cache(maxsize=8)
def _into_degrees(system: GridSystem) -> Transformer:
    from pyproj import Transformer

    return Transformer.from_crs(system.crs, WGS84, always_xy=True)


@lru_cache(maxsize=64)
def _from_degrees(
    system: GridSystem, west: float, south: float, east: float, north: float
) -> tuple[Transformer, ...]:
    """Transformations that are at hand for an area [degrees], the best first."""
    from pyproj.aoi import AreaOfInterest
    from pyproj.transformer import TransformerGroup

    interest: Any = AreaOfInterest(west, south, east, north)
    with warnings.catch_warnings():  # the accuracy is handed on, which says more than the warning does
        warnings.simplefilter("ignore", UserWarning)
        group = TransformerGroup(WGS84, system.crs, always_xy=True, area_of_interest=interest)
    return tuple(group.transformers)


def _outside(system: GridSystem, longitude: FloatArray, latitude: FloatArray) -> BoolArray:
    if system.area_deg is None:
        return np.zeros(longitude.shape, dtype=bool)
    west, south, east, north = system.area_deg
    margin = AREA_MARGIN_DEG
    upright = (latitude >= south - margin) & (latitude <= north + margin)
    if west <= east:
        across = (longitude >= west - margin) & (longitude <= east + margin)
    else:
        across = (longitude >= west - margin) | (longitude <= east + margin)
    return ~(upright & across)


def _check_kind(code: str, crs: CRS) -> None:
    if crs.type_name == "Projected CRS":
        return
    if crs.is_compound and crs.sub_crs_list[0].is_projected:
        horizontal = crs.sub_crs_list[0].to_authority()
        hint = f" (use its horizontal part, EPSG:{horizontal[1]})" if horizontal else ""
        raise CoordinateSystemError(f"{shown(code)} ({crs.name}) has heights in it{hint}")
    raise CoordinateSystemError(
        f"{shown(code)} ({crs.name}) is not a projected system in metres{_utm_hint(crs)}"
    )


def _check_metres(code: str, crs: CRS) -> None:
    axis = crs.axis_info[0]
    if axis.unit_conversion_factor == 1.0:
        return
    raise CoordinateSystemError(
        f"{shown(code)} ({crs.name}) counts in {axis.unit_name}, not in metres{_metre_hint(crs)}"
    )


def _metre_hint(crs: CRS) -> str:
    """Name the system that differs in its unit alone, else the UTM zone of the same datum."""
    from pyproj.database import query_crs_info
    from pyproj.enums import PJType

    plain = re.sub(r"\s*\((?:ft|ftUS|km)\)$", "", crs.name)
    if plain != crs.name:
        for info in query_crs_info("EPSG", pj_types=[PJType.PROJECTED_CRS]):
            if info.name == plain or info.name == f"{plain} (m)":
                return f' (its system in metres is "EPSG:{info.code}", {info.name})'
    return _utm_hint(crs)


def _utm_hint(crs: CRS) -> str:
    from pyproj.aoi import AreaOfInterest
    from pyproj.database import query_utm_crs_info

    area = crs.area_of_use
    if area is None or not 0 < area.east - area.west <= 12.0 or area.north - area.south > 60.0:
        return ' (use a projected system in metres, for example a UTM zone such as "EPSG:32631")'
    east, north = 0.5 * (area.west + area.east), 0.5 * (area.south + area.north)
    zone = query_utm_crs_info("WGS 84", AreaOfInterest(east, north, east, north))
    if not zone:
        return ""
    return f' (a system in metres there is "EPSG:{zone[0].code}", {zone[0].name})'
