"""A roster as a file: read as spreadsheets write it, compared with what is here, written so that it opens safely."""
