"""Calendar files of RFC 5545: read from others, written for each person's own calendar."""
