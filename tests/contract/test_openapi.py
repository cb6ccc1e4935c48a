"""The API's description: fresh, valid, complete, and of just what is served."""

import json
from pathlib import Path
from typing import Any

import pytest
from litestar.routes import HTTPRoute
from openapi_spec_validator import validate

from security.teams import framework
from studbook.wire.fields import catalog
from studbook.wire.operations import OPERATIONS
from studbook.wire.problem import TITLES
from studbook_service.app import create_app
from studbook_service.http.openapi import describe, document_bytes
from studbook_service.http.problems import STATUS

COMMITTED = Path(__file__).parents[2] / "openapi" / "openapi.json"


@pytest.fixture(scope="module")
def described() -> dict[str, Any]:
    return describe()


def test_the_committed_description_is_fresh() -> None:
    assert COMMITTED.read_bytes() == document_bytes(), (
        "run: python -m studbook_service.http.openapi > openapi/openapi.json"
    )


def test_it_is_valid(described: dict[str, Any]) -> None:
    validate(described)


def test_what_is_served_is_what_is_described() -> None:
    served = {
        (method, route.path_format, handler.opt["operation"].name)
        for route in framework(create_app(dsn="postgresql://nowhere")).routes
        if isinstance(route, HTTPRoute)
        for handler in route.route_handlers
        for method in handler.http_methods
        if method != "OPTIONS"  # which the framework answers by itself
    }
    assert served == {(operation.method, operation.path, operation.name) for operation in OPERATIONS}


def test_every_code_has_a_status_and_is_described(described: dict[str, Any]) -> None:
    assert STATUS.keys() == TITLES.keys()
    texts = json.dumps(described["paths"])
    # Met at unknown addresses, by other methods, and where a later form of answer is asked for.
    anywhere = {"method_not_allowed", "not_acceptable"}
    assert {code for code in TITLES if f"{code}: " not in texts} == anywhere


def test_the_setup_is_described_in_full(described: dict[str, Any]) -> None:
    """Every known leaf is reached through the schema, numbers with their unit and bounds."""
    schemas = described["components"]["schemas"]

    def followed(schema: dict[str, Any]) -> dict[str, Any]:
        while "$ref" in schema:
            schema = schemas[schema["$ref"].rpartition("/")[2]]
        return schema

    for path, field in catalog().items():
        schema = schemas["Setup"]
        for step in path:
            inner = schema["additionalProperties"] if step == "*" else schema["properties"][step]
            schema = followed(inner)
        if field.unit:
            assert schema["unit"] == field.unit, path
            assert schema["unitName"]
        if schema.get("type") in {"number", "integer"}:
            assert {"minimum", "maximum"} <= schema.keys(), path


def test_every_operation_has_its_headers_and_problems(described: dict[str, Any]) -> None:
    push = described["paths"]["/v1/cars/{car}/sheets/{sheet}/revisions"]["post"]
    sent = {each["name"] for each in push["parameters"] if each["in"] == "header"}
    assert sent == {"If-Match", "If-None-Match", "Idempotency-Key"}
    assert set(push["responses"]) == {
        *(
            "200",
            "201",
            "400",
            "401",
            "403",
            "404",
            "409",
            "410",
            "412",
            "413",
            "415",
            "422",
            "428",
            "429",
            "500",
            "503",
        )
    }
    always = {"X-Request-Id", "RateLimit", "RateLimit-Policy"}
    assert set(push["responses"]["201"]["headers"]) == {"ETag", "Location", *always}
    for operations in described["paths"].values():
        for operation in operations.values():
            for status, response in operation["responses"].items():
                assert always <= set(response["headers"])
                if int(status) >= 400:
                    assert list(response["content"]) == ["application/problem+json"]
