"""Where no machine may go: zones, clearances, test holes."""
