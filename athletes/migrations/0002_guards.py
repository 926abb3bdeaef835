"""The database's own rules: nobody changes the access log, permission answers are seen by club alone (PostgreSQL)."""

from django.db import migrations

from athletes.log_guard import drop_guard, set_guard
from athletes.row_guard import drop_policies, set_policies

SEEN_BY_CLUB = ("athletes_permissionevent", "athletes_permissionrecipient")


def set_rules(apps, editor):
    set_guard(editor.connection)
    set_policies(editor.connection, SEEN_BY_CLUB)


def drop_rules(apps, editor):
    drop_policies(editor.connection, SEEN_BY_CLUB)
    drop_guard(editor.connection)


class Migration(migrations.Migration):
    dependencies = [("athletes", "0001_initial")]

    operations = [migrations.RunPython(set_rules, drop_rules)]
