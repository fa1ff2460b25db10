"""The machine-readable answer."""

from plumbmark.exchange.estimates.writer import FORMAT, estimates_bytes, estimates_json, estimates_text

__all__ = ["FORMAT", "estimates_bytes", "estimates_json", "estimates_text"]
