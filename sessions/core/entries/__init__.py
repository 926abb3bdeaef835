"""Entries of a session's record: what one may say, and which of them count."""
