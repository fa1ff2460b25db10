"""The server of the field app: HTTP in front of `app`, and nothing computed here."""
