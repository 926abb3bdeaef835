"""Settings of the tests: SQLite in a file by default, PostgreSQL and Redis by environment."""

import os
import tempfile
from pathlib import Path

_scratch = Path(tempfile.gettempdir()) / f"teamtrack-tests-{os.environ.get('PYTEST_XDIST_TESTRUNUID', os.getpid())}"
os.environ.setdefault("TEAMTRACK_DATA_DIR", str(_scratch))
os.environ.setdefault("TEAMTRACK_DEMO", "1")
os.environ.setdefault("SECRET_KEY", "tests only, never served")

_worker = os.environ.get("PYTEST_XDIST_WORKER", "")
if os.environ.get("REDIS_URL") and _worker:
    # Tests that run side by side each have a queue of their own.
    _url, _, _number = os.environ["REDIS_URL"].rpartition("/")
    os.environ["REDIS_URL"] = f"{_url}/{int(_number) - int(_worker.removeprefix('gw'))}"

from teamtrack.settings import *  # noqa: E402, F403
from teamtrack.settings import DATA_DIR, DATABASES, INSTALLED_APPS, MIDDLEWARE  # noqa: E402

DATA_DIR.mkdir(parents=True, exist_ok=True)
INSTALLED_APPS = [*INSTALLED_APPS, "tests"]
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["TEST"] = {"NAME": DATA_DIR / f"test-{_worker or 'main'}.sqlite3"}
else:
    DATABASES["default"]["OPTIONS"] = {"prepare_threshold": DATABASES["default"]["OPTIONS"]["prepare_threshold"]}
CHECK_SERVING_LOGIN = False  # the tests' own login makes databases
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
MIDDLEWARE = [name for name in MIDDLEWARE if not name.startswith("whitenoise")]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
