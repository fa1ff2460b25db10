"""GeoParquet."""

from plumbmark.exchange.geoparquet.reader import geoparquet_lines
from plumbmark.exchange.geoparquet.writer import geoparquet_bytes

__all__ = ["geoparquet_bytes", "geoparquet_lines"]
