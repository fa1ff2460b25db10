"""KML."""

from plumbmark.exchange.kml.reader import kml_lines
from plumbmark.exchange.kml.writer import kml_bytes

__all__ = ["kml_bytes", "kml_lines"]
