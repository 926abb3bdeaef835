"""Verifies every club's chain of the access log and names the first bad entry."""

from argparse import RawDescriptionHelpFormatter
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from athletes.models import Club
from athletes.selectors.access_log import chain_fault
from athletes.selectors.signed_heads import heads_in_file
from athletes.services.signed_heads import heads_file


class Command(BaseCommand):
    help = "Verify the access log of every club: exit status 0 where whole, 1 naming the first bad entry."

    def create_parser(self, *args: Any, **kwargs: Any) -> CommandParser:
        parser = super().create_parser(*args, **kwargs)
        parser.formatter_class = RawDescriptionHelpFormatter
        parser.epilog = (
            "Examples:\n  python manage.py verify_access_log\n"
            "  python manage.py verify_access_log --heads /media/safe/signed-heads.jsonl --key PUBLIC_KEY"
        )
        return parser

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--heads", type=Path, metavar="FILE", help="signed heads that were kept elsewhere")
        parser.add_argument("--key", metavar="HEX", help="the printed public key (else that of this server)")

    def handle(self, **options: Any) -> None:
        heads = list(heads_in_file(options["heads"] or heads_file()))
        faults = []
        for club in Club.objects.order_by("name"):
            fault = chain_fault(club_id=club.pk, outside=heads, key=options["key"])
            if fault is None:
                self.stdout.write(f"{club.name} ({club.pk}): whole")
            else:
                faults.append(f"{club.name} ({club.pk}): entry {fault.seq} is bad ({fault.reason})")
        if faults:
            raise CommandError("\n".join(faults), returncode=1)
