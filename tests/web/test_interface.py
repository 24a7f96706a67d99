"""The HTTP interface as it describes itself, and schemathesis over all of it: nothing fails, nobody acts
without a session.

Schemathesis makes requests from the description alone; Hypothesis is derandomised, so that a run is the same
tomorrow. The stream of /live has no end: only its refusal is asked for here, the rest in test_live.
"""

import re
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, given
from hypothesis import settings as run
from schemathesis.checks import not_a_server_error
from schemathesis.core.result import Ok
from schemathesis.specs.openapi.checks import content_type_conformance, status_code_conformance
from starlette.routing import Route

from tests.web.canned import canned
from tests.web.crew import Aboard
from web.app import create_app
from web.rights import FREE_TO_WRITE

BASE = "http://127.0.0.1:8080"
DOCUMENT = create_app(canned("well")).openapi()
SCHEMA = schemathesis.openapi.from_dict(DOCUMENT)
FOUND = [found.ok() for found in SCHEMA.get_all_operations() if isinstance(found, Ok)]
OPERATIONS = {f"{operation.method.upper()} {operation.path}": operation for operation in FOUND}
CHECKS = [not_a_server_error, status_code_conformance, content_type_conformance]
few = run(
    max_examples=12, derandomize=True, database=None, deadline=None, suppress_health_check=list(HealthCheck)
)


def test_every_address_is_described() -> None:
    """The routes as the app has them, against the paths of the description; the document is OpenAPI 3.1."""
    app = create_app(canned("well"))
    made = {
        (method.lower(), re.sub(r":\w+\}", "}", route.path))
        for route in app.routes
        if isinstance(route, Route)
        for method in (route.methods or set()) - {"HEAD", "OPTIONS"}
    }
    described = {(method, path) for path, methods in DOCUMENT["paths"].items() for method in methods}
    assert described == made | {("get", "/static/{file}")}
    assert DOCUMENT["openapi"].startswith("3.1")
    assert len(OPERATIONS) == len(described) >= 30


def test_every_write_says_that_it_needs_a_session() -> None:
    for path, methods in DOCUMENT["paths"].items():
        for method, operation in methods.items():
            if method != "get" and path not in FREE_TO_WRITE:
                assert operation["security"] == [{"session": []}]
                assert {"303", "403"} <= set(operation["responses"])


@pytest.fixture(scope="module")
def private(tmp_path_factory: pytest.TempPathFactory) -> Aboard:
    return Aboard(tmp_path_factory.mktemp("private"), guests="nothing")


@pytest.fixture(scope="module")
def aboard(tmp_path_factory: pytest.TempPathFactory) -> Aboard:
    return Aboard(tmp_path_factory.mktemp("aboard"), state="leaking")


@pytest.fixture(scope="module")
def session(aboard: Aboard) -> dict[str, Any]:
    """What a browser that is signed in sends."""
    client = aboard.signed_in()
    token = re.search(r'name="csrf" value="([^"]+)"', client.get("/").text)
    assert token is not None
    return {"cookies": dict(client.cookies), "headers": {"X-CSRF": token[1], "Origin": BASE}}


@pytest.mark.parametrize("name", OPERATIONS)
def test_nobody_acts_without_a_session_and_nothing_fails(name: str, private: Aboard) -> None:
    operation = OPERATIONS[name]
    writes = operation.method != "get"

    @few
    @given(operation.as_strategy())
    def ask(case: Any) -> None:
        answer = case.call(base_url=BASE, app=private.app, headers={"Origin": BASE}, allow_redirects=False)
        case.validate_response(answer, checks=CHECKS)
        if writes and operation.path not in FREE_TO_WRITE:
            assert answer.status_code in (303, 403, 413), "413: a body whose length is not told"
            if answer.status_code == 303:
                assert answer.headers["location"][0].startswith("/signin")

    ask()
    assert private.watch.asked == []


@pytest.mark.parametrize("name", [name for name in OPERATIONS if name != "GET /live"])
def test_whoever_is_signed_in_makes_nothing_fail(name: str, aboard: Aboard, session: dict[str, Any]) -> None:
    operation = OPERATIONS[name]
    statuses = set()

    @few
    @given(operation.as_strategy())
    def ask(case: Any) -> None:
        answer = case.call(base_url=BASE, app=aboard.app, allow_redirects=False, **session)
        case.validate_response(answer, checks=CHECKS)
        statuses.add(answer.status_code)

    ask()
    assert statuses - {403, 413}, "the session was taken for one"
