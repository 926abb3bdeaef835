"""Solves a planning problem from a JSON file; needs neither database nor environment."""

from __future__ import annotations

import argparse
import json
import sys
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from sessions.core.planner.faults import Fault, ProblemFaults
from sessions.core.planner.solve import solve_document

EXAMPLE = """example:
  python manage.py solve_plan problem.json --seconds 20 --workers 2 --seed 1 > plan.json

exit status: 0 a plan was found (even if some demands stay unplaced), 2 the input is not valid
"""


class Command(BaseCommand):
    help = "Places the sessions of a planning problem and writes the plan as JSON."
    requires_system_checks: list[str] = []
    requires_migrations_checks = False

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        return super().create_parser(
            prog_name, subcommand, epilog=EXAMPLE, formatter_class=argparse.RawDescriptionHelpFormatter, **kwargs
        )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("problem", help="file with the problem, - for standard input")
        parser.add_argument("--seconds", type=float, default=20.0, help="bounds the whole run (default 20)")
        parser.add_argument("--workers", type=int, default=2, help="threads of the solver (default 2)")
        parser.add_argument("--seed", type=int, default=1, help="seed of the solver (default 1)")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            document = read_document(options["problem"])
            plan = solve_document(
                document, seconds=options["seconds"], workers=options["workers"], seed=options["seed"]
            )
        except ProblemFaults as error:
            for fault in error.faults:
                self.stderr.write(str(fault), style_func=str)
            sys.exit(2)
        self.stdout.write(json.dumps(plan, indent=1, ensure_ascii=False))


def read_document(name: str) -> Any:
    """The JSON value of the file, decimals kept as they are written; `ProblemFaults` if it is none."""
    try:
        text = sys.stdin.read() if name == "-" else Path(name).read_text(encoding="utf-8")
        return json.loads(text, parse_float=Decimal)
    except (OSError, ValueError, RecursionError) as error:
        raise ProblemFaults([Fault("$", f"no JSON document can be read: {error!a}")]) from error
