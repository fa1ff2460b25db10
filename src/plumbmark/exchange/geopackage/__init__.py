"""GeoPackage: one SQLite file with every layer, styled."""

from plumbmark.exchange.geopackage.reader import geopackage_lines
from plumbmark.exchange.geopackage.writer import geopackage_bytes

__all__ = ["geopackage_bytes", "geopackage_lines"]
