"""Sets Django up for a benchmark that is run by hand: to be imported before any model."""

import os

import django
from django.db import connection

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
django.setup()
if connection.vendor == "postgresql":
    # As servers have it; the tests themselves use no pool.
    connection.settings_dict["OPTIONS"] |= {"pool": {"min_size": 1, "max_size": 10, "timeout": 10}}
