"""The security baseline where no other test has it: headers, cookies, redirects, what is logged, closed accounts."""

import json
import logging
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings as project
from django.contrib.auth.hashers import Argon2PasswordHasher, get_hashers
from django.contrib.auth.password_validation import validate_password
from django.contrib.sessions.models import Session
from django.core.exceptions import ValidationError
from django.test import Client

from athletes.models import Account, Person, SignIn
from teamtrack import settings as served
from teamtrack.common.logs import JsonLine
from tests.people import PASSWORD

ROOT = Path(__file__).resolve().parents[2]
CODE = [path for top in ("athletes", "sessions", "teamtrack") for path in sorted((ROOT / top).rglob("*.py"))]
SCRIPTS = sorted((ROOT / "teamtrack/common/static/js").rglob("*.js"))
TEMPLATES = [path for top in ("athletes", "sessions", "teamtrack") for path in (ROOT / top).rglob("*.html")]


def found_in(paths, pattern):
    return [str(path.relative_to(ROOT)) for path in paths if re.search(pattern, path.read_text(encoding="utf-8"))]


def sign_in(account, **more):
    browser = Client(**more)
    return browser, browser.post("/sign-in", {"username": account.username, "password": PASSWORD})


STRICT = {
    "DEBUG": False, "SESSION_COOKIE_SECURE": True, "CSRF_COOKIE_SECURE": True,
    "SESSION_COOKIE_NAME": "__Host-sessionid", "CSRF_COOKIE_NAME": "__Host-csrftoken",
    "SESSION_COOKIE_HTTPONLY": True, "SESSION_COOKIE_SAMESITE": "Lax", "SECURE_HSTS_SECONDS": 31536000,
    "SECURE_SSL_REDIRECT": True, "SECURE_HSTS_INCLUDE_SUBDOMAINS": True,
    "MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN": False,
}  # fmt: skip
TELL = """
import json, sys, teamtrack.settings as served
print(json.dumps({name: getattr(served, name) for name in sys.argv[1:]}))
"""


def test_outside_the_demo_cookies_and_transport_are_strict():
    """What a server runs with, asked in a process of its own."""
    told = subprocess.run(
        [sys.executable, "-c", TELL, *STRICT], cwd=ROOT, capture_output=True, text=True, check=True,
        env={"PATH": os.environ["PATH"], "SECRET_KEY": "x" * 50, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert json.loads(told.stdout) == STRICT


def test_every_answer_says_how_it_is_to_be_read(scene):
    browser, _done = sign_in(scene.athlete.account)
    for place in (
        "/sign-in",
        "/sheet",
        "/today",
        "/me/sign-ins",
        "/nothing-here",
        "/api/v1/me",
        "/api/v1/nothing",
        "/sw.js",
    ):
        answer = browser.get(place, headers={"Origin": "https://elsewhere.example"})
        assert answer["X-Content-Type-Options"] == "nosniff", place
        assert answer["Referrer-Policy"] == "same-origin"
        assert answer["Cross-Origin-Opener-Policy"] == "same-origin"
        for part in ("default-src 'self'", "object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'"):
            assert part in answer["Content-Security-Policy"], place
        assert not answer.has_header("Access-Control-Allow-Origin")
        kind = answer["Content-Type"]
        assert "charset=utf-8" in kind or kind == "application/json", place


def test_cookies_of_a_sign_in_are_not_for_scripts(scene):
    browser, _done = sign_in(scene.athlete.account)
    for name in (project.SESSION_COOKIE_NAME, "device"):
        assert browser.cookies[name]["httponly"] and browser.cookies[name]["samesite"] == "Lax"


@pytest.mark.parametrize(
    "wanted",
    ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)", "\\\\elsewhere.example", "ftp:x"],
)
def test_nobody_is_led_elsewhere_after_signing_in(scene, wanted):
    words = {"username": scene.athlete.account.username, "password": PASSWORD, "next": wanted}
    assert Client().post("/sign-in", words)["Location"] == "/"
    words["next"] = "/sign-out"
    assert Client().post("/sign-in", words)["Location"] == "/"
    browser, _done = sign_in(scene.admin.account)
    assert "elsewhere" not in browser.get("/me/second-factor", {"next": wanted}).content.decode()


def test_signing_in_gives_a_new_session_and_signing_out_ends_it_on_the_server(scene):
    browser = Client()
    browser.get("/sign-in/passkey")
    before = browser.cookies[project.SESSION_COOKIE_NAME].value
    browser.post("/sign-in", {"username": scene.athlete.account.username, "password": PASSWORD})
    key = browser.cookies[project.SESSION_COOKIE_NAME].value
    assert key != before and len(key) == 32 and not Session.objects.filter(session_key=before).exists()
    browser.post("/sign-out")
    assert not Session.objects.filter(session_key=key).exists()
    stolen = Client()
    stolen.cookies[project.SESSION_COOKIE_NAME] = key
    assert stolen.get("/today").status_code == 302


def test_a_closed_account_is_out_at_once(scene):
    browser, _done = sign_in(scene.athlete.account)
    assert browser.get("/today").status_code == 200
    Account.objects.filter(person=scene.athlete).update(is_active=False)
    assert browser.get("/today").status_code == 302
    assert "not right" in sign_in(scene.athlete.account)[1].content.decode()


def test_there_is_no_account_that_nobody_made(db):
    assert not Account.objects.exists() and not SignIn.objects.exists()
    assert "django.contrib.admin" not in project.INSTALLED_APPS


def test_passwords_are_kept_by_a_slow_hash_and_none_is_truncated():
    assert served.PASSWORD_HASHERS[0].endswith("Argon2PasswordHasher")
    hasher = Argon2PasswordHasher()
    assert (hasher.memory_cost, hasher.time_cost) >= (19 * 1024, 2), "OWASP password storage, Argon2id, from memory"
    assert get_hashers()
    account = Account()
    long = "x" * 72 + "pewter kettle under oak" * 5
    account.set_password(long)
    assert account.check_password(long) and not account.check_password(long[:-1])


@pytest.mark.parametrize("password", ["1q2w3e4r5t6y7u8i9o0p", "123456789987654321", "short"])
def test_known_and_short_passwords_are_refused(password):
    with pytest.raises(ValidationError):
        validate_password(password)


@pytest.mark.parametrize(
    "password", ["pewter kettle under oak", "ÄÖÜ 😀 läuft über 3 Steine", "a1" * 33, "pewterkettleunderoak"]
)
def test_any_composition_of_letters_will_do(password):
    validate_password(password)


def test_a_field_for_a_password_masks_and_takes_what_is_pasted(scene, client):
    browser, _done = sign_in(scene.athlete.account)
    pages = client.get("/sign-in").content.decode() + browser.get("/me/password").content.decode()
    fields = re.findall(r"<input[^>]*name=\"(?:password|old|new|again)\"[^>]*>", pages)
    assert len(fields) == 4
    for field in fields:
        assert 'type="password"' in field and "onpaste" not in field and 'autocomplete="' in field


RUNS_TEXT = r"\b(eval|exec)\(|shell=True|os\.system|import pickle|yaml\.load\(|mark_safe\(|SafeString\("
WRITES_MARKUP = r"(inner|outer)HTML =|insertAdjacentHTML|document\.write|\beval\(|new Function"
OF_THE_SERVER = ["teamtrack/common/static/js/week_move.js"]
"""Scripts that put a piece of a page into the page: it comes from this server, which has escaped what people typed."""


def test_the_code_builds_no_query_command_or_page_from_text():
    """No evaluating, no shell, no pickles, no pages marked as safe, no assignment of markup in scripts."""
    assert found_in(CODE, RUNS_TEXT) == []
    assert found_in(CODE, r"\.(raw|extra)\(|RawSQL") == []
    assert found_in(SCRIPTS, WRITES_MARKUP) == OF_THE_SERVER
    assert found_in(TEMPLATES, r"\|safe\b|autoescape off") == []


def test_what_people_type_stands_in_pages_as_text(scene, signed_in):
    typed = "<script>alert(1)</script>"
    Person.objects.filter(pk=scene.athlete.pk).update(given_name=typed)
    pages = {"admin": "/admin/roster", "coach": "/coach/athletes", "athlete": "/me/sign-ins"}
    for who, place in pages.items():
        page = signed_in(getattr(scene, who)).get(place).content.decode()
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page and typed not in page, place


@pytest.fixture
def log_lines():
    lines = []

    class Kept(logging.Handler):
        def emit(self, record):
            lines.append(json.loads(JsonLine().format(record)))

    kept, root = Kept(), logging.getLogger()
    root.addHandler(kept)
    yield lines
    root.removeHandler(kept)


def test_what_was_refused_stands_in_the_log_without_a_name(scene, log_lines):
    Client().post("/sign-in", {"username": "nobody-here", "password": "nothing\nright"})
    browser, _done = sign_in(scene.athlete.account)
    browser.get("/admin/roster")
    Client().get("/api/v1/me")
    told = [(line["level"], line["message"]) for line in log_lines]
    assert ("WARNING", "a sign-in was refused") in told
    assert ("WARNING", "Not Found: /admin/roster") in told
    assert ("WARNING", "Unauthorized: /api/v1/me") in told
    assert "nobody-here" not in str(log_lines)
    assert all(re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d{4}", line["time"]) for line in log_lines)


def test_a_line_of_the_log_stays_one_line(log_lines):
    logging.getLogger("x").warning("first\nsecond\r\x1b[31m")
    assert json.dumps(log_lines[-1]).count("\n") == 0
    record = logging.LogRecord("x", logging.WARNING, "", 0, "first\nsecond", (), None)
    assert "\n" not in JsonLine().format(record)
