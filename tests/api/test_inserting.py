"""Rows by statements of our own are the rows that the framework writes. Both databases."""

from __future__ import annotations

import pytest
from django.db import DataError, connection, transaction
from django.test.utils import CaptureQueriesContext

from contractor.api import inserting
from contractor.api.models import Branch, Company


def _branch(company: Company, name: str, key: int | None = None) -> Branch:
    return Branch(pk=key, company=company, name=name)


def test_a_key_asked_ahead_is_the_next_rows_own(vendor: str, company: Company) -> None:
    """The rows that the framework writes before and after get other keys."""
    before = Branch.objects.create(company=company, name="before")
    with transaction.atomic():
        key = inserting.take_key(Branch)
        inserting.send([inserting.insertion(_branch(company, "ahead", key))])
    after = Branch.objects.create(company=company, name="after")
    assert before.pk < key < after.pk
    assert Branch.objects.get(name="ahead").pk == key


def test_a_key_given_up_is_not_in_the_way(vendor: str, company: Company) -> None:
    """Asked for and not used, or used and rolled back; the rows after it find keys of their own."""
    with transaction.atomic():
        given_up = inserting.take_key(Branch)
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        rolled_back = inserting.take_key(Branch)
        inserting.send([inserting.insertion(_branch(company, "gone", rolled_back))])
        raise ZeroDivisionError
    with transaction.atomic():
        key = inserting.take_key(Branch)
        inserting.send([inserting.insertion(_branch(company, "kept", key))])
    after = Branch.objects.create(company=company, name="next")
    assert given_up <= rolled_back <= key < after.pk
    assert list(Branch.objects.order_by("pk").values_list("name", flat=True)) == ["kept", "next"]


def test_values_that_cannot_be_sent_are_the_frameworks_errors(
    vendor: str, company: Company
) -> None:
    if vendor == "postgresql":  # SQLite stores the character
        with pytest.raises(DataError), transaction.atomic():
            inserting.send([inserting.insertion(_branch(company, "a\0b"))])


def test_a_text_without_values_is_taken_as_it_stands(vendor: str, company: Company) -> None:
    text = f"UPDATE api_branch SET name = 'a%%b %s' WHERE company_id = {company.pk:d}"
    Branch.objects.create(company=company, name="before")
    assert inserting.send([(text, ())]) == [1]
    assert Branch.objects.get().name == "a%%b %s"


def test_answers_come_in_the_order_of_the_questions(vendor: str, company: Company) -> None:
    for name in "ab":
        Branch.objects.create(company=company, name=name)
    names = "SELECT name FROM api_branch WHERE name = %s"
    found = inserting.ask([(names, ["b"]), (names, ["%s"]), (names, ["a"])])
    assert found == [[("b",)], [], [("a",)]]


def test_a_row_without_key_gets_one_and_the_models_values(vendor: str, company: Company) -> None:
    name = "100 % \u00e9 'quoted' %s ; --"
    with transaction.atomic():
        counts = inserting.send(
            [
                inserting.insertion(_branch(company, name)),
                ("UPDATE api_branch SET latitude = 1 WHERE company_id = %s", [company.pk]),
                ("UPDATE api_branch SET longitude = 2 WHERE id = 0", ()),
            ]
        )
    assert counts == [1, 1, 0]
    mine, theirs = Branch.objects.get(), Branch(company=company, name=name)
    skipped = {"id", "created_at", "updated_at", "latitude"}
    for field in Branch._meta.concrete_fields:
        if field.name not in skipped:
            assert getattr(mine, field.attname) == getattr(theirs, field.attname)
    assert mine.latitude == 1


def test_what_was_inserted_is_changed_by_the_next_save(vendor: str, company: Company) -> None:
    with transaction.atomic():
        row = _branch(company, "new", inserting.take_key(Branch))
        inserting.send([inserting.insertion(row)])
    row.name = "newer"
    row.save()
    assert (Branch.objects.get().name, Branch.objects.get().version) == ("newer", 2)


def test_statements_go_out_in_one_message_where_there_is_one(vendor: str, company: Company) -> None:
    rows = [inserting.insertion(_branch(company, name)) for name in "abc"]
    with transaction.atomic(), CaptureQueriesContext(connection) as sent:
        inserting.send(rows)
    inserts = [query for query in sent.captured_queries if "INSERT" in query["sql"]]
    assert len(inserts) == (1 if vendor == "postgresql" else 3)
    assert Branch.objects.count() == 3
