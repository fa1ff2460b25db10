"""plumbmark: where a buried line really is, in what band, and why."""

__version__ = "0.1.0"
