"""Log lines as JSON with a fixed list of keys, so that no personal data slips in."""

import json
import logging
import re

EXTRA_KEYS = ("code", "job", "status", "seconds", "request_id")
SECRET_PLACE = re.compile(r"(/calendar/)[^/\s?]+")
"""An address that is itself a secret."""


class JsonLine(logging.Formatter):
    """One line of JSON: time, level, logger, message without query strings, and the allowed extra keys."""

    def format(self, record: logging.LogRecord) -> str:
        line = {
            "time": self.formatTime(record, "%Y-%m-%dT%H:%M:%S%z"),
            "level": record.levelname,
            "logger": record.name,
            "message": SECRET_PLACE.sub(r"\1...", record.getMessage().split("?", 1)[0]),
        }
        line |= {key: getattr(record, key) for key in EXTRA_KEYS if hasattr(record, key)}
        if record.exc_info and record.exc_info[0]:
            line["exception"] = record.exc_info[0].__name__
            line["trace"] = self.formatException(record.exc_info).splitlines()[-6:-1]
        return json.dumps(line, default=str)
