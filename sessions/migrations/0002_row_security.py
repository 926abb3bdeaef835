"""Health text and notices are seen by person alone (PostgreSQL)."""

from django.db import migrations

from athletes.row_guard import drop_policies, set_policies

TABLES = ("training_paindetail", "training_notice")


class Migration(migrations.Migration):
    dependencies = [("training", "0001_initial")]

    operations = [
        migrations.RunPython(
            lambda apps, editor: set_policies(editor.connection, TABLES),
            lambda apps, editor: drop_policies(editor.connection, TABLES),
        ),
    ]
