"""The OpenAPI document is generated without a warning, and tells what answers may hold."""

from __future__ import annotations

import re
from typing import Any

import pytest
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.validation import validate_schema
from jsonschema import Draft202012Validator
from jsonschema.exceptions import SchemaError
from rest_framework.exceptions import ValidationError

from contractor.api.endpoints import site
from contractor.engine.quantity_document import LARGEST_NUMBER
from jobs.api.shapes import CustomerShape
from tests.conftest import ApiTester

PATH = "/api/v1"


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    schema: dict[str, Any] = SchemaGenerator().get_schema(request=None, public=True)  # type: ignore[no-untyped-call]
    return schema


def member(document: dict[str, Any], shape: str, name: str) -> dict[str, Any]:
    found: dict[str, Any] = document["components"]["schemas"][shape]["properties"][name]
    return found


def test_it_is_openapi_31(document: dict[str, Any]) -> None:
    validate_schema(document)  # type: ignore[no-untyped-call]
    assert document["openapi"].startswith("3.1.")


@pytest.mark.parametrize(
    ("shape", "name"),
    [
        ("ReleaseShape", "torque"),
        ("ReadingShape", "torque"),
        ("ReadingShape", "height"),
        ("BraceRecordShape", "measured_height"),
    ],
)
def test_a_quantity_that_may_be_missing_is_null_in_answers(
    document: dict[str, Any], shape: str, name: str
) -> None:
    assert {"type": "null"} in member(document, shape, name)["anyOf"]


def test_a_request_may_not_erase_what_was_measured(document: dict[str, Any]) -> None:
    kinds = member(document, "PatchedBraceRecordShapeRequest", "measured_height")["anyOf"]
    assert {"type": "null"} not in kinds


def test_an_empty_choice_is_listed_where_answers_hold_it(document: dict[str, Any]) -> None:
    assert "" in member(document, "ReminderShape", "channel")["enum"]
    assert "" not in member(document, "JobShape", "status")["enum"]


@pytest.mark.parametrize("name", ["stock", "order-suggestions", "movement", "saw-report"])
def test_reports_about_a_named_row_may_be_404(document: dict[str, Any], name: str) -> None:
    assert "404" in document["paths"][f"{PATH}/{name}"]["get"]["responses"]


def test_explanations_may_not_be_there_yet(document: dict[str, Any]) -> None:
    """A plan that is still computed has no reasons to give (409)."""
    assert "409" in document["paths"][f"{PATH}/crew-plans/{{id}}/why"]["get"]["responses"]
    assert "409" not in document["paths"][f"{PATH}/crew-plans/{{id}}"]["get"]["responses"]


def test_no_description_speaks_to_developers(document: dict[str, Any]) -> None:
    shapes = document["components"]["schemas"].values()
    operations = [one for path in document["paths"].values() for one in path.values()]
    texts = [entry.get("description", "") for entry in (*shapes, *operations)]
    assert not [text for text in texts if "override" in text or "``__all__``" in text]


def test_quantities_share_one_shape_each(document: dict[str, Any]) -> None:
    shapes = document["components"]["schemas"]
    assert set(shapes["Length"]["required"]) == {"value", "unit", "text"}
    assert set(shapes["LengthRequest"]["required"]) == {"value", "unit"}


def test_no_default_breaks_its_own_bounds(document: dict[str, Any]) -> None:
    wrong = [
        (shape, name)
        for shape, schema in document["components"]["schemas"].items()
        for name, entry in schema.get("properties", {}).items()
        if "minimum" in entry and entry.get("default", entry["minimum"]) < entry["minimum"]
    ]
    assert wrong == []
    assert "default" not in member(document, "DeliveryShapeRequest", "packs")
    assert member(document, "RequestPlanShapeRequest", "seconds")["default"] == 10


def test_requests_are_closed_and_answers_open(document: dict[str, Any]) -> None:
    shapes = document["components"]["schemas"]
    assert shapes["OpenJobShapeRequest"]["additionalProperties"] is False
    assert "additionalProperties" not in shapes["JobShape"]


def parameters(document: dict[str, Any], path: str) -> dict[str, dict[str, Any]]:
    found = document["paths"][f"{PATH}/{path}"]["get"]["parameters"]
    return {entry["name"]: entry["schema"] for entry in found}


def test_no_query_parameter_may_be_empty(document: dict[str, Any]) -> None:
    """An empty value is refused (400), so the document may not offer it."""
    texts = [
        (path, entry["name"])
        for path, item in document["paths"].items()
        for operation in item.values()
        for entry in operation.get("parameters", ())
        if entry["in"] == "query" and entry["schema"].get("type") == "string"
        if "enum" not in entry["schema"] and entry["schema"].get("minLength") != 1
    ]
    assert texts == []
    assert parameters(document, "jobs")["cursor"]["pattern"] == "^[A-Za-z0-9_-]+$"


def test_a_filter_by_a_row_is_a_whole_number(document: dict[str, Any]) -> None:
    assert parameters(document, "jobs")["branch"]["type"] == "integer"
    assert parameters(document, "cutting-plans")["kits"]["type"] == "integer"


@pytest.mark.parametrize(
    ("shape", "name"), [("AtpShapeRequest", "lines"), ("ReturnShapeRequest", "lines")]
)
def test_lists_tell_their_bounds(document: dict[str, Any], shape: str, name: str) -> None:
    found = member(document, shape, name)
    assert (found["minItems"], found["maxItems"]) == (1, 500)


def test_a_document_in_a_request_is_an_object(document: dict[str, Any]) -> None:
    """The readers refuse null and anything else."""
    assert member(document, "SurveyShapeRequest", "document")["type"] == "object"
    assert member(document, "LoadCatalogueShapeRequest", "document")["type"] == "object"


def test_a_length_as_text_is_not_empty(document: dict[str, Any]) -> None:
    forms = member(document, "NeedShapeRequest", "length")["anyOf"]
    assert [form["minLength"] for form in forms if form.get("type") == "string"] == [1]


def test_proposed_holidays_are_a_list(document: dict[str, Any]) -> None:
    answer = document["paths"][f"{PATH}/holidays/propose"]["post"]["responses"]["201"]
    shape = answer["content"]["application/json"]["schema"]["$ref"]
    assert shape == "#/components/schemas/ProposedHolidaysShape"


@pytest.mark.parametrize(
    ("form", "media_type"),
    [("json", "application/vnd.oai.openapi+json"), ("yaml", "application/vnd.oai.openapi")],
)
@pytest.mark.django_db
def test_it_is_made_once_and_served_in_both_forms(
    anonymous: ApiTester, form: str, media_type: str
) -> None:
    answer = anonymous.get(f"{PATH}/schema?format={form}")
    assert (answer.status_code, answer["Content-Type"]) == (200, media_type)
    made = site.schema_text.cache_info().misses
    assert anonymous.get(f"{PATH}/schema?format={form}").content == answer.content
    assert site.schema_text.cache_info().misses == made


def test_an_endpoint_tells_the_form_of_addresses_and_kinds(document: dict[str, Any]) -> None:
    assert member(document, "EndpointRequest", "url")["pattern"].startswith("^https?://")
    [kind, wrong] = [
        re.search(member(document, "EndpointRequest", "kinds")["items"]["pattern"], text)
        for text in ("job.*", "job scheduled")
    ]
    assert kind
    assert not wrong


def test_any_preference_may_be_sent(document: dict[str, Any]) -> None:
    """RFC 7240 section 2: a server ignores preferences that it does not know."""
    entries = document["paths"][f"{PATH}/calculations/movement"]["post"]["parameters"]
    [schema] = [entry["schema"] for entry in entries if entry["name"] == "Prefer"]
    assert "enum" not in schema


def test_numbers_tell_the_range_that_is_read(document: dict[str, Any]) -> None:
    value = document["components"]["schemas"]["LengthRequest"]["properties"]["value"]
    assert (value["minimum"], value["maximum"]) == (-LARGEST_NUMBER, LARGEST_NUMBER)
    assert parameters(document, "jobs")["branch"]["maximum"] == 10**18 - 1
    assert parameters(document, "events")["after"]["minimum"] == 0


def test_what_only_looks_like_text_is_refused_as_the_pattern_says(document: dict[str, Any]) -> None:
    """Spaces by Unicode (White_Space) and the separators that Python's ``str.strip`` trims."""
    found = member(document, "CustomerShapeRequest", "name")
    field = CustomerShape().fields["name"]
    for number in range(1, 0x3001):
        text = chr(number)
        is_told = re.search(found["pattern"], text) is not None
        try:
            field.run_validation(text)
        except ValidationError:
            assert not is_told, hex(number)
        else:
            assert is_told, hex(number)


def test_every_shape_is_a_json_schema(document: dict[str, Any]) -> None:
    """JSON Schema 2020-12, which OpenAPI 3.1 uses, by its own meta-schema."""
    for name, shape in document["components"]["schemas"].items():
        try:
            Draft202012Validator.check_schema(shape)
        except SchemaError as error:
            pytest.fail(f"{name}: {error.message}")
