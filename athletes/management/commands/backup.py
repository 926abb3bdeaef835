"""`backup DIR`: write a backup of the database into DIR."""

from argparse import RawDescriptionHelpFormatter
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import DatabaseError

from athletes.services.ledger import write_missing
from teamtrack.common.backup import make_backup
from teamtrack.common.clock import utc_now


class Command(BaseCommand):
    help = (
        "Write a backup into DIR and remove those older than 35 days. Run it as the database's owner. Keys of health "
        "text (HEALTH_KEYS_DIR) and the erasure ledger's file are copied apart, to another disk."
    )

    def create_parser(self, *args: Any, **kwargs: Any) -> CommandParser:
        parser = super().create_parser(*args, **kwargs)
        parser.formatter_class = RawDescriptionHelpFormatter
        parser.epilog = "Example:\n  python manage.py backup /media/safe/teamtrack"
        return parser

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", type=Path, metavar="DIR")

    def handle(self, **options: Any) -> None:
        write_missing()
        try:
            place = make_backup(options["folder"], now=utc_now())
        except (DatabaseError, OSError) as error:
            raise CommandError(f"No backup was made: {error}") from error
        self.stdout.write(str(place))
