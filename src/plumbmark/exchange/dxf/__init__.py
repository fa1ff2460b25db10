"""DXF."""

from plumbmark.exchange.dxf.reader import dxf_lines
from plumbmark.exchange.dxf.writer import dxf_bytes

__all__ = ["dxf_bytes", "dxf_lines"]
