"""The base of the front: components, faults, theme, undo."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from django.http import Http404
from django.template.loader import render_to_string
from django.test import Client, RequestFactory

from athletes.models import Person
from teamtrack.common.web.gallery import KINDS, SHOWN, gallery
from tests.people import Scene

SignIn = Callable[[Person], Client]
ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = sorted(
    path
    for folder in ("teamtrack/common", "athletes", "sessions")
    for path in (ROOT / folder / "templates").rglob("*.html")
)
INLINE = re.compile(r"<style|\sstyle=|\son\w+=|hx-on|js:|<script(?![^>]*\bsrc=)|javascript:", re.IGNORECASE)


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_no_template_holds_a_script_or_a_style(template: Path) -> None:
    assert INLINE.findall(template.read_text()) == []


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_an_include_names_a_template_that_is_there(template: Path) -> None:
    there = {path.as_posix().split("/templates/", 1)[1] for path in TEMPLATES}
    named = set(re.findall(r'{% (?:include|extends) "([^"]+)"', template.read_text()))
    assert named <= there


def test_the_gallery_shows_every_kind_and_result_in_both_themes(db: None, client: Client) -> None:
    text = client.get("/components").content.decode()
    light, dark = text.index('stack" data-theme="light"'), text.index('stack" data-theme="dark"')
    for pane in (text[light:dark], text[dark:]):
        assert {f"kind-{kind}" for kind in KINDS} <= set(re.findall(r'class="kind (kind-\w+)"', pane))
        assert {f"shown-{shown}" for shown in SHOWN} == set(re.findall(r'class="shown (shown-\w+)"', pane))


@pytest.mark.parametrize(("demo", "debug"), [(True, False), (False, True)])
def test_the_gallery_is_there_in_demo_and_debug(
    db: None, settings: object, rf: RequestFactory, demo: bool, debug: bool
) -> None:
    settings.DEMO, settings.DEBUG = demo, debug  # type: ignore[attr-defined]
    assert gallery(rf.get("/components")).status_code == 200


def test_the_gallery_is_nowhere_else(settings: object, rf: RequestFactory) -> None:
    settings.DEMO = settings.DEBUG = False  # type: ignore[attr-defined]
    with pytest.raises(Http404):
        gallery(rf.get("/components"))


@pytest.mark.parametrize("status", ["400", "403", "403_csrf", "404", "500", "503"])
def test_a_fault_says_what_happened_what_is_safe_and_what_to_do(status: str) -> None:
    """Rendered without a request, as the server does when it is broken."""
    text = render_to_string(f"{status}.html")
    main = text[text.index("<main") :]
    paragraphs = re.findall(r"<p>(.*?)</p>", main, re.DOTALL)
    assert len(re.findall(r"<h1>.+</h1>", main)) == 1
    assert len(paragraphs) == 2
    assert all(sentence.strip() for sentence in paragraphs)


@pytest.mark.parametrize(("kept", "told"), [("dark", ' data-theme="dark"'), ("light", ' data-theme="light"')])
def test_a_theme_kept_on_the_device_comes_with_the_page(db: None, client: Client, kept: str, told: str) -> None:
    client.cookies["theme"] = kept
    assert f'<html lang="en"{told}>' in client.get("/sign-in").content.decode()


@pytest.mark.parametrize("kept", ["device", "", '"><script>', "DARK"])
def test_any_other_theme_is_the_devices(db: None, client: Client, kept: str) -> None:
    client.cookies["theme"] = kept
    assert '<html lang="en">' in client.get("/sign-in").content.decode()


def test_the_policy_allows_no_script_or_style_in_the_page(db: None, client: Client) -> None:
    policy = client.get("/sign-in").headers["Content-Security-Policy"]
    assert "unsafe" not in policy
    assert "nonce" not in policy
    assert "default-src 'self'" in policy


def test_a_page_says_who_is_signed_in_where_one_is_and_how_to_leave(scene: Scene, signed_in: SignIn) -> None:
    text = signed_in(scene.guardian).get("/guardian/family").content.decode()
    assert "Greta Tester, Guardian" in text
    assert text.count('aria-current="page"') == 1
    assert re.search(r'<form method="post" action="/sign-out"', text)
    assert '<a class="skip spoken" href="#main">' in text


def test_a_page_fetched_to_be_kept_takes_nothing_that_is_said_once(scene: Scene, signed_in: SignIn) -> None:
    browser = signed_in(scene.head_coach)
    kept_on = browser.session
    kept_on["undo_offer"] = {"text": "It is moved.", "action": "/today", "fields": {}}
    kept_on.save()
    assert "It is moved." not in browser.get("/today", headers={"X-Keep": "yes"}).text
    assert "It is moved." in browser.get("/today").text
    assert "It is moved." not in browser.get("/today").text
