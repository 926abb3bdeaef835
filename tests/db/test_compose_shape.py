"""The servers' description: what runs, what waits for what, what is published, and that no secret has a default."""

import os
import re
import subprocess
import sys

import pytest
import yaml

from teamtrack.common.serving.is_ready import main as is_ready
from tests.demo_server import ROOT, free_port

SECRETS = {"SECRET_KEY", "POSTGRES_OWNER_PASSWORD", "POSTGRES_APP_PASSWORD", "REDIS_PASSWORD"}
SERVING = ("web", "worker", "solver", "beat")


@pytest.fixture(scope="module")
def text():
    return (ROOT / "docker-compose.yml").read_text()


@pytest.fixture(scope="module")
def services(text):
    return yaml.safe_load(text)["services"]


def test_exactly_these_services(services):
    assert set(services) == {"db", "queue", "migrate", *SERVING}


def test_the_one_who_signs_the_log_keeps_its_key_and_heads(services):
    assert "log:/var/lib/teamtrack" in services["worker"]["volumes"]
    assert "TEAMTRACK_DATA_DIR=/var/lib/teamtrack" in (ROOT / "Dockerfile").read_text()


def test_all_share_the_keys_of_health_text_and_the_erasure_ledger(services):
    for name in ("migrate", *SERVING):
        assert "keys:/var/lib/teamtrack-keys" in services[name]["volumes"]
        assert services[name]["environment"]["HEALTH_KEYS_DIR"] == "/var/lib/teamtrack-keys"
        for file in ("ERASURE_LEDGER_FILE", "SIGN_IN_KEY_FILE"):
            assert services[name]["environment"][file].startswith("/var/lib/teamtrack-keys/")


def test_supported_versions(services):
    assert services["db"]["image"] == "postgres:15"
    assert services["queue"]["image"] == "redis:7"


def test_the_web_alone_is_published_and_to_this_machine(services):
    assert {name for name, service in services.items() if "ports" in service} == {"web"}
    assert services["web"]["ports"] == ["${WEB_ADDRESS:-127.0.0.1:8000}:8000"]


def test_every_secret_must_be_given_and_none_has_a_default(text):
    used = re.findall(r"\$\{(\w+)([:?-]*)", text)
    assert {name for name, _how in used if name in SECRETS} == SECRETS
    assert all(how == ":?" for name, how in used if name in SECRETS)


def test_the_example_names_what_is_needed_and_gives_no_secret(text):
    lines = [line for line in (ROOT / ".env.example").read_text().splitlines() if line and not line.startswith("#")]
    given = dict(line.split("=", 1) for line in lines)
    assert {name for name, _how in re.findall(r"\$\{(\w+)([:?-]*)", text)} == set(given)
    assert {name for name, value in given.items() if value} == {"WEB_ADDRESS"}


def test_everything_that_serves_waits_for_health_and_for_the_migration(services):
    waits = {name: services[name]["depends_on"] for name in ("web", "worker", "solver")}
    for wanted in waits.values():
        assert wanted["migrate"] == {"condition": "service_completed_successfully"}
        assert wanted["db"] == wanted["queue"] == {"condition": "service_healthy"}
    assert services["migrate"]["depends_on"]["db"] == {"condition": "service_healthy"}
    assert services["beat"]["depends_on"]["worker"] == {"condition": "service_healthy"}
    assert all("healthcheck" in services[name] for name in ("db", "queue", "web", "worker", "solver"))


def test_the_owner_migrates_and_never_serves(services):
    assert "DATABASE_URL" in services["migrate"]["environment"]
    assert services["migrate"]["command"][-1].split(" && ") == [
        "python manage.py migrate --noinput",
        "python manage.py create_app_login",
    ]
    for name in SERVING:
        assert "DATABASE_URL" not in services[name]["environment"]
        assert "teamtrack_app:" in services[name]["environment"]["DATABASE_APP_URL"]
        assert "TEAMTRACK_DEMO" not in services[name]["environment"]


def test_several_web_workers_and_a_worker_of_its_own_for_solves(services):
    assert int(services["web"]["environment"]["WEB_WORKERS"]) > 1
    queues = {name: _after(services[name]["command"], "-Q") for name in ("worker", "solver")}
    assert queues == {"worker": "default", "solver": "solve"}
    assert "beat" in services["beat"]["command"]
    assert "--beat" not in services["worker"]["command"]


def _after(words, word):
    return words[words.index(word) + 1]


def test_the_image_is_pinned_and_does_not_run_as_root():
    lines = (ROOT / "Dockerfile").read_text().splitlines()
    assert "FROM python:3.11-slim" in lines
    assert any("--constraint constraints.txt" in line for line in lines)
    assert "USER teamtrack" in lines
    assert ".git" in (ROOT / ".dockerignore").read_text().splitlines()
    assert lines.index("USER teamtrack") < next(n for n, line in enumerate(lines) if line.startswith("CMD"))


def test_health_checks_of_the_containers_tell_what_is_not_there(tmp_path):
    assert is_ready(f"http://127.0.0.1:{free_port()}/healthz") == 1
    environment = {**os.environ, "DJANGO_SETTINGS_MODULE": "tests.settings", "TEAMTRACK_DATA_DIR": str(tmp_path)}
    command = [sys.executable, "-m", "teamtrack.common.serving.is_beating", f"nobody-{os.getpid()}"]
    assert subprocess.run(command, cwd=ROOT, env=environment).returncode == 1


def test_nothing_is_served_without_a_secret_key(tmp_path):
    environment = {key: value for key, value in os.environ.items() if key not in ("SECRET_KEY", "TEAMTRACK_DEMO")}
    environment |= {"DJANGO_SETTINGS_MODULE": "teamtrack.settings", "TEAMTRACK_DATA_DIR": str(tmp_path)}
    command = [sys.executable, "-c", "import teamtrack.wsgi"]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True)
    assert done.returncode != 0
    assert "SECRET_KEY" in done.stderr
