"""Before the first reading: where to look, where to connect, which frequency."""
