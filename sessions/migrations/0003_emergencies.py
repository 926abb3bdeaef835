"""Emergency access: who opened whose pain notes, why, until when; seen by athlete alone (PostgreSQL)."""

import django.db.models.deletion
import uuid
from django.db import migrations, models

from athletes.row_guard import drop_policies, set_policies

TABLES = ("training_emergencyaccess",)


class Migration(migrations.Migration):

    dependencies = [
        ('athletes', '0002_guards'),
        ('training', '0002_row_security'),
    ]

    operations = [
        migrations.AlterField(
            model_name='notice',
            name='kind',
            field=models.CharField(choices=[('moved', 'moved'), ('added', 'new'), ('called_off', 'called off'), ('easier', 'easier version'), ('on_again', 'takes place after all'), ('stopped', 'stopped for today'), ('pain', 'a pain note wants a person'), ('not_coming', 'not coming'), ('stop_asked', 'would like to stop a point'), ('passed_on', 'a note for you in the summary'), ('emergency', 'pain notes opened in an emergency')], max_length=12),
        ),
        migrations.CreateModel(
            name='EmergencyAccess',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('opened_as', models.CharField(max_length=20)),
                ('reason', models.CharField(max_length=200)),
                ('opened_at', models.DateTimeField()),
                ('until', models.DateTimeField()),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
                ('athlete', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='athletes.person')),
                ('club', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='athletes.club')),
                ('opened_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='athletes.person')),
            ],
            options={
                'ordering': ['-opened_at', 'id'],
                'indexes': [models.Index(fields=['club', 'opened_at'], name='emergencies_by_time')],
            },
        ),
        migrations.RunPython(
            lambda apps, editor: set_policies(editor.connection, TABLES),
            lambda apps, editor: drop_policies(editor.connection, TABLES),
        ),
    ]
