"""`create_app_login`: make the login that serves on PostgreSQL, from DATABASE_APP_URL."""

from argparse import RawDescriptionHelpFormatter
from typing import Any

import environ
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection, transaction

from teamtrack.common.serving.app_login import AppLogin, make_app_login


class Command(BaseCommand):
    help = "Make the login that DATABASE_APP_URL names, or renew its password and grants. Run it after each migrate."

    def create_parser(self, *args: Any, **kwargs: Any) -> CommandParser:
        parser = super().create_parser(*args, **kwargs)
        parser.formatter_class = RawDescriptionHelpFormatter
        parser.epilog = (
            "Example:\n  DATABASE_URL=postgres://owner:…@db/teamtrack DATABASE_APP_URL=postgres://app:…@db/teamtrack "
            "python manage.py create_app_login"
        )
        return parser

    def handle(self, **options: Any) -> None:
        if connection.vendor != "postgresql":
            raise CommandError("SQLite knows no logins: set DATABASE_URL to the owner's login on PostgreSQL.")
        given = environ.Env().db_url_config(environ.Env().str("DATABASE_APP_URL", default="") or "postgres://")
        if not given.get("USER") or not given.get("PASSWORD"):
            raise CommandError("DATABASE_APP_URL names no user or no password.")
        if given["USER"] == connection.settings_dict["USER"]:
            raise CommandError("DATABASE_APP_URL names the owner itself: give the serving login another name.")
        with transaction.atomic():
            make_app_login(connection, AppLogin(name=given["USER"], password=given["PASSWORD"]))
        self.stdout.write(f"{given['USER']} may serve; it owns nothing and cannot change the access log.")
