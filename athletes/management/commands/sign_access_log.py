"""Signs the heads of every club's access log and writes them to the file that is to leave the server."""

from argparse import RawDescriptionHelpFormatter
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from athletes.log_key import public_key
from athletes.services.signed_heads import heads_file, sign_heads


class Command(BaseCommand):
    help = "Sign what is new in every access log; prints the file of signed heads and the public key to keep elsewhere."

    def create_parser(self, *args: Any, **kwargs: Any) -> CommandParser:
        parser = super().create_parser(*args, **kwargs)
        parser.formatter_class = RawDescriptionHelpFormatter
        parser.epilog = "Example:\n  python manage.py sign_access_log"
        return parser

    def handle(self, **options: Any) -> None:
        made = sign_heads()
        self.stdout.write(f"signed {made}\nfile {heads_file()}\npublic key {public_key()}")
