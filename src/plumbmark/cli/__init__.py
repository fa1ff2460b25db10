"""The command line: calls `app` and prints."""
