"""Logs that crews have, read as tables of text; a further kind is one small file (docs/readers.md)."""

from plumbmark.exchange.readers.log import Known, Log, LogError, Part, Reader
from plumbmark.exchange.readers.registry import read_log

__all__ = ["Known", "Log", "LogError", "Part", "Reader", "read_log"]
