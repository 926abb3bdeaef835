"""Answers permission questions from fact rows, with the function that every page uses."""

import json
import sys
from typing import Any

from django.core.management.base import BaseCommand

from athletes.core.permissions import decide
from athletes.core.permissions.reading import read_rows

EXIT_BAD_ROWS = 2


class Command(BaseCommand):
    help = (
        "Reads facts from standard input, one JSON object a line, and prints one answer a line. "
        "Example: python manage.py decide_permission < rows.jsonl > answers.jsonl, where a row is "
        '{"id": "1", "act": "use", "purpose": "feedback", "by": "coach", "age": 15}. '
        "A faulty line is named on standard error, nothing is printed and the exit status is 2."
    )
    requires_system_checks: list[str] = []
    requires_migrations_checks = False

    def handle(self, *args: Any, **options: Any) -> None:
        rows, faults = read_rows(sys.stdin.buffer.read())
        for fault in faults:
            self.stderr.write(str(fault))
        if faults:
            sys.exit(EXIT_BAD_ROWS)
        for row in rows:
            answer = decide(row.facts)
            self.stdout.write(json.dumps({"id": row.id, "may": answer.may, "code": answer.code}))
