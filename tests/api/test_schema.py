"""The OpenAPI document describes every address of the API and nothing else."""

import re

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from drf_spectacular.drainage import GENERATOR_STATS
from drf_spectacular.generators import SchemaGenerator

from sessions.api.links import LINKS
from teamtrack.common.api.missing import Missing


def api_addresses():
    (api,) = (p for p in get_resolver().url_patterns if isinstance(p, URLResolver) and str(p.pattern) == "api/v1/")

    def walk(patterns, before):
        for pattern in patterns:
            here = before + str(pattern.pattern)
            if isinstance(pattern, URLResolver):
                yield from walk(pattern.url_patterns, here)
            elif isinstance(pattern, URLPattern) and getattr(pattern.callback, "view_class", None) is not Missing:
                yield "/api/v1/" + re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", here), pattern.callback.view_class

    return dict(walk(api.url_patterns, ""))


@pytest.fixture
def document(db):
    answer = Client().get("/api/v1/schema")
    assert answer.status_code == 200
    return answer.json()


def test_every_address_is_in_it_and_no_other(document):
    described = {path for path in document["paths"] if path != "/api/v1/schema"}
    assert described == {path for path in api_addresses() if path != "/api/v1/schema"}


def test_every_method_is_in_it(document):
    for path, view in api_addresses().items():
        methods = {m for m in ("get", "post", "put", "patch", "delete") if hasattr(view, m)}
        assert set(document["paths"][path]) & {"get", "post", "put", "patch", "delete"} == methods, path


def test_making_the_document_gives_no_warning(db, capsys):
    GENERATOR_STATS.reset()
    SchemaGenerator().get_schema(request=None, public=True)
    assert not GENERATOR_STATS, capsys.readouterr().err


def test_every_body_is_said_to_have_no_other_key(document):
    for path, methods in document["paths"].items():
        for one in methods.values():
            for content in one.get("requestBody", {}).get("content", {}).values():
                ref = content["schema"].get("$ref", "")
                body = document["components"]["schemas"][ref.rpartition("/")[2]] if ref else content["schema"]
                assert body["additionalProperties"] is False, path


def test_every_shape_has_no_other_key(document):
    """So an answer with a field that is not described is none that is described."""
    shapes = document["components"]["schemas"]
    assert [name for name, one in shapes.items() if "properties" in one and one["additionalProperties"]] == []


def test_links_lead_to_every_address_but_those_of_signing_in(document):
    told = {
        (one["operationId"], link["operationId"])
        for path in document["paths"].values()
        for one in path.values()
        for answer in one["responses"].values()
        for link in answer.get("links", {}).values()
    }
    operations = {one["operationId"] for path in document["paths"].values() for one in path.values()}
    assert (
        told == {(link.source, link.target) for link in LINKS} and {end for pair in told for end in pair} < operations
    )
    not_reached = operations - {target for _source, target in told}
    assert not_reached == {
        "schema_retrieve", "sign_in_retrieve", "sign_in_create", "sign_in_second_create", "sign_out_create"
    }  # fmt: skip


def test_every_error_has_the_shape_that_the_document_tells(document, scene, signed_in):
    told = document["components"]["schemas"]["Error"]
    coach = signed_in(scene.coach)
    answers = [
        Client().get("/api/v1/me"), coach.get("/api/v1/weeks/none"), coach.get("/api/v1/sessions?until=x"),
        coach.get("/api/v1/me", headers={"accept": "text/html"}), coach.post("/api/v1/sign-in", {"username": "x"}),
        Client(enforce_csrf_checks=True).post("/api/v1/sign-in"),
    ]  # fmt: skip
    assert [one.status_code for one in answers] == [401, 404, 400, 406, 415, 403]
    for one in answers:
        assert sorted(one.json()) == sorted(told["required"])
