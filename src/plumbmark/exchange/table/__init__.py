"""Tables: CSV and workbooks."""

from plumbmark.exchange.table.reader import csv_lines, xlsx_lines
from plumbmark.exchange.table.writer import csv_bytes, xlsx_bytes

__all__ = ["csv_bytes", "csv_lines", "xlsx_bytes", "xlsx_lines"]
