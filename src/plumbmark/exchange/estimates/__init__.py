"""The machine-readable answer."""

from plumbmark.exchange.estimates.writer import FORMAT, estimates_bytes, estimates_json, write_estimates

__all__ = ["FORMAT", "estimates_bytes", "estimates_json", "write_estimates"]
