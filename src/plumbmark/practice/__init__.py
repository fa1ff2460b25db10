"""Invented sites, richer than what inference fits. Level 4; never imports inference."""

from plumbmark.practice.families import FAMILIES, make_site
from plumbmark.practice.site import Site, StationTruth
from plumbmark.practice.writing import write_site

__all__ = ["FAMILIES", "Site", "StationTruth", "make_site", "write_site"]
