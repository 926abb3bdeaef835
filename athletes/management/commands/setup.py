"""`setup`: begin a club on a new database; prints the address and the one-time code of its first admin, once."""

from argparse import RawDescriptionHelpFormatter
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from athletes.services.first_start import begin_real_club
from teamtrack.common.errors import Refused


class Command(BaseCommand):
    help = (
        "Begin a club on a new database: its tables, its name, zone and country, and its first admin, who gets a "
        "one-time code instead of an account. Everything after that is done on the pages."
    )

    def create_parser(self, *args: Any, **kwargs: Any) -> CommandParser:
        parser = super().create_parser(*args, **kwargs)
        parser.formatter_class = RawDescriptionHelpFormatter
        parser.epilog = (
            "Example:\n"
            "  python manage.py setup --club 'Chalk Lane AC' --zone Europe/Dublin --country IE --emergency 112 \\\n"
            "    --admin 'Ada Inglewick'"
        )
        return parser

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--club", required=True, help="the club's name")
        parser.add_argument("--zone", required=True, help="its time zone, as Europe/Dublin")
        parser.add_argument("--country", required=True, help="its country, two capital letters, as IE")
        parser.add_argument("--emergency", required=True, help="the emergency number that its pages show, as 112")
        parser.add_argument("--admin", required=True, help="given and family name of its first admin")

    def handle(self, **options: Any) -> None:
        if settings.DEMO:
            raise CommandError("The demo makes its own club: python manage.py demo")
        given, _space, family = options["admin"].strip().rpartition(" ")
        if not given or not family:
            raise CommandError("Give the admin's given and family name, as 'Ada Inglewick'. Nothing was made.")
        call_command("migrate", verbosity=0, interactive=False)
        try:
            club, code = begin_real_club(
                name=options["club"], timezone=options["zone"], country=options["country"],
                emergency_number=options["emergency"], given_name=given, family_name=family,
            )  # fmt: skip
        except Refused as refusal:
            raise CommandError(refusal.detail) from refusal
        self.stdout.write(
            f"{club.name} is there. Its first admin, {options['admin']}, opens /sheet and types this code:"
        )
        self.stdout.write(f"\n    {code.shown}\n")
        self.stdout.write("It works once, within 14 days, and is not shown again. The admin sets a password with it.")
        self.stdout.write("Next, on the pages: second factor, To do (rules), Staff, Squads and groups, Roster.")
