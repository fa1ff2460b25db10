"""GeoJSON (RFC 7946)."""

from plumbmark.exchange.geojson.reader import geojson_lines
from plumbmark.exchange.geojson.writer import geojson_bytes

__all__ = ["geojson_bytes", "geojson_lines"]
