"""`restore DIR`: put a backup into an empty database, and take away again what was erased since."""

from argparse import RawDescriptionHelpFormatter
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from athletes.services.closings_of_factors import who_lost_factors
from athletes.services.restore import restore
from teamtrack.common.backup import BadBackup


class Command(BaseCommand):
    help = (
        "Restore the newest backup in DIR and repeat the erasure ledger, before anybody sees a row. Stop the servers "
        "first; run it as the database's owner, and create_app_login afterwards."
    )

    def create_parser(self, *args: Any, **kwargs: Any) -> CommandParser:
        parser = super().create_parser(*args, **kwargs)
        parser.formatter_class = RawDescriptionHelpFormatter
        parser.epilog = "Example:\n  python manage.py restore /media/safe/teamtrack"
        return parser

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", type=Path, metavar="DIR")
        parser.add_argument("--replace", action="store_true", help="also where the database is not empty")
        parser.add_argument(
            "--without-ledger",
            action="store_true",
            help="the ledger's file is lost: every yes ends; limits set since the backup, and roles and authority that "
            "ended since, passwords that changed, birth dates and rules of the club are set again by hand",
        )

    def handle(self, **options: Any) -> None:
        call_command("migrate", verbosity=0, interactive=False)
        try:
            rows, lines = restore(
                options["folder"], replace=options["replace"], without_ledger=options["without_ledger"]
            )
        except BadBackup as error:
            raise CommandError(str(error)) from error
        self.stdout.write(
            f"{rows} rows restored, {lines} lines of the ledger repeated. The site may open. Every sign-in has ended; "
            "whose password changed since the backup needs a new invitation."
        )
        if lost := len(who_lost_factors()):
            self.stdout.write(
                f"Accounts whose second factor is not in the backup: {lost}. A password alone opens the page where "
                "another is set up, and nothing else where the role asks for one. Tell their owners at once."
            )
