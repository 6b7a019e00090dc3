"""Tables as spreadsheets write them: encodings, separators, what a workbook can hide."""

from __future__ import annotations

import io
import zipfile
from datetime import date, datetime
from typing import Any

import pytest
from openpyxl import Workbook

from contractor.api.tables import MAX_BYTES, MAX_ROWS, Line, TableError, read_table

HEAD = "Name,Built Year\r\n"


def workbook(*rows: list[Any]) -> bytes:
    book = Workbook()
    assert book.active is not None
    for row in rows:
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_unicode_in_any_of_its_forms(encoding: str) -> None:
    table = read_table((HEAD + "Peña,1962\r\n").encode(encoding))
    assert table.columns == ("name", "built_year")
    assert table.lines == (Line(2, {"name": "Peña", "built_year": "1962"}),)


def test_windows_text_is_refused_until_somebody_says_so() -> None:
    """In Windows-1252 the letter n with tilde is byte F1 (Unicode mapping CP1252.TXT)."""
    content = HEAD.encode() + b"Pe\xf1a,1962\r\n"
    with pytest.raises(TableError, match=r"Row 2 is not utf-8") as refused:
        read_table(content)
    assert "windows-1252" in refused.value.remedy
    assert read_table(content, encoding="windows-1252").lines[0].cells["name"] == "Peña"
    with pytest.raises(TableError, match="Row 2"):  # 81 is not assigned there
        read_table(HEAD.encode() + b"\x81,1\r\n", encoding="windows-1252")


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_separators_and_endings(separator: str, ending: str) -> None:
    rows = ["name,note", '"a, b; c\td","two\nlines"', ",", "", "e,f"]
    text = ending.join(row if '"' in row else row.replace(",", separator) for row in rows)
    text = text.replace('td","two', f'td"{separator}"two').replace('d","two', f'd"{separator}"two')
    lines = read_table(text.encode()).lines
    assert [line.cells for line in lines] == [
        {"name": "a, b; c\td", "note": "two\nlines"},
        {"name": "e", "note": "f"},
    ]
    assert lines[-1].number == 6  # as an editor counts: the quoted cell takes two


def test_the_apostrophe_of_our_own_exports_goes_away() -> None:
    cells = read_table(b"a,b,c\r\n'=1+1,'+1 555 0101,'tis\r\n").lines[0].cells
    assert cells == {"a": "=1+1", "b": "+1 555 0101", "c": "'tis"}


def test_a_row_with_more_cells_than_the_head_says_so() -> None:
    assert read_table(b"a\n1,2\n").lines[0].fault
    assert not read_table(b"a\n1,,\n").lines[0].fault


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "no row below"),
        (b"name\n", "no row below"),
        (b"name,name\n1,2\n", "twice"),
        (b"name,,b\n1,2,3\n", "no name"),
        (b'name\n"open\n', "not CSV"),
        (b"name\na\x00b\n", "NUL"),
        (b"\xd0\xcf\x11\xe0 old", ".xls"),
        (b"PK\x03\x04 broken", "damaged"),
        (b"x" * (MAX_BYTES + 1), "2 MB"),
        (b"a\n" + b"1\n" * (MAX_ROWS + 1), "rows"),
        (b",".join(b"c%d" % n for n in range(101)) + b"\n1\n", "columns"),
    ],
)
def test_what_is_no_table_is_refused_with_a_remedy(content: bytes, words: str) -> None:
    with pytest.raises(TableError) as refused:
        read_table(content)
    assert words in refused.value.detail
    assert refused.value.remedy


def test_a_workbook_gives_numbers_days_and_text() -> None:
    content = workbook(
        ["Name", "Count", "Share", "On", "At", "Yes"],
        [" a ", 12.0, 0.5, date(2026, 3, 2), datetime.fromisoformat("2026-03-02T08:00:00"), True],
        [None] * 6,
        ["b"],
    )
    first, second = read_table(content).lines
    assert first.cells == {
        "name": "a",
        "count": 12,
        "share": 0.5,
        "on": "2026-03-02",
        "at": "2026-03-02T08:00:00",
        "yes": True,
    }
    assert (second.number, second.cells) == (4, {"name": "b"})


def test_formulas_of_a_workbook_are_not_guessed() -> None:
    with pytest.raises(TableError, match="Row 2 holds a formula"):
        read_table(workbook(["a"], ["=1+1"]))


def test_a_workbook_that_unpacks_without_end_is_refused() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", b"0" * (41 * 1024 * 1024))
    assert len(out.getvalue()) < MAX_BYTES
    with pytest.raises(TableError, match="40 MB"):
        read_table(out.getvalue())


def test_a_workbook_with_entities_is_refused() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("xl/workbook.xml", b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "c">]>')
    with pytest.raises(TableError, match="document type"):
        read_table(out.getvalue())
