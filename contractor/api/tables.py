"""Read a table that somebody sends as CSV or XLSX: a head row, and rows by name of column."""

from __future__ import annotations

import csv
import io
import re
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from xml.etree.ElementTree import ParseError

from contractor.errors import DomainError

MAX_BYTES = 2 * 1024 * 1024
MAX_UNPACKED = 40 * 1024 * 1024
MAX_ROWS = 1000
MAX_COLUMNS = 100
ENCODINGS = {"utf-8": "utf-8", "windows-1252": "cp1252"}
_MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
_ZIP, _OLD_EXCEL = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
_FORMULA = re.compile(r"'\s*[=+\-@\t\r\n\uff1d\uff0b\uff0d\uff20]")
_BROKEN = (
    *(zipfile.BadZipFile, zlib.error, ParseError, OSError, EOFError),
    *(KeyError, ValueError, TypeError, IndexError, AttributeError),
)

Cell = str | int | float | bool


class TableError(DomainError):
    code = "unreadable_table"
    title = "The file cannot be read as a table"
    status = 400


@dataclass(frozen=True)
class Line:
    """``number`` is the row as a spreadsheet counts it; blank cells are not in ``cells``."""

    number: int
    cells: dict[str, Cell]
    fault: str = ""


@dataclass(frozen=True)
class Table:
    columns: tuple[str, ...]
    lines: tuple[Line, ...]


def read_table(content: bytes, *, encoding: str = "utf-8") -> Table:
    """Return the table in ``content``. Raises TableError with what to do about it.

    A byte order mark wins over ``encoding``. Cells are stripped; the apostrophe that our own
    exports put in front of what could be a formula is taken away again.
    """
    if len(content) > MAX_BYTES:
        raise TableError("The file is larger than 2 MB.", remedy="Split it.")
    if content.startswith(_OLD_EXCEL):
        raise TableError("This is an .xls file.", remedy="Save it as .xlsx or as CSV UTF-8.")
    if content.startswith(_ZIP):
        return _table(_workbook_rows(content))
    return _table(_csv_rows(_decoded(content, encoding)))


def _decoded(content: bytes, encoding: str) -> str:
    found = next((name for mark, name in _MARKS if content.startswith(mark)), None)
    try:
        text = content.decode(found or ENCODINGS[encoding])
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise TableError(
            f"Row {line} is not {found or encoding} text.",
            remedy="Save the file as CSV UTF-8, or send encoding=windows-1252 if it is that.",
            row=line,
        ) from error
    if "\0" in text:
        raise TableError("The file holds NUL characters.", remedy="Save it as CSV UTF-8 again.")
    return text


def _csv_rows(text: str) -> Iterator[tuple[int, list[Any]]]:
    head = text.lstrip("\r\n").partition("\n")[0]
    delimiter = max(",;\t", key=head.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        before = 0
        for row in reader:
            yield before + 1, row
            before = reader.line_num
    except csv.Error as error:
        raise TableError(
            f"Row {reader.line_num} is not CSV: {error}.",
            remedy='Put cells with quotes or line breaks in "..." and double the quotes inside.',
            row=reader.line_num,
        ) from error


def _workbook_rows(content: bytes) -> Iterator[tuple[int, list[Any]]]:
    from openpyxl import load_workbook

    try:
        _refuse_bomb(content)
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=False)
        sheet = book.worksheets[0]
        sheet.reset_dimensions()
        for number, row in enumerate(sheet.iter_rows(max_col=MAX_COLUMNS + 1), start=1):
            yield number, [_workbook_cell(cell, number) for cell in row]
    except _BROKEN as error:
        raise TableError(
            "The workbook is damaged, or is none.", remedy="Save it again as .xlsx or CSV UTF-8."
        ) from error


def _refuse_bomb(content: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        if sum(entry.file_size for entry in packed.infolist()) > MAX_UNPACKED:
            raise TableError("The workbook unpacks to more than 40 MB.", remedy="Split it.")
        for entry in packed.infolist():
            with packed.open(entry) as part:
                if b"<!DOCTYPE" in part.read(4096):
                    raise TableError("The workbook holds a document type.", remedy="Send CSV.")


def _workbook_cell(cell: Any, number: int) -> Any:
    if cell.data_type == "f":
        raise TableError(
            f"Row {number} holds a formula.",
            remedy="Copy the cells and paste them as values.",
            row=number,
        )
    value = cell.value
    if isinstance(value, datetime):
        is_day = value.time() == datetime.min.time()
        return value.date().isoformat() if is_day else value.isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value


def _table(rows: Iterable[tuple[int, list[Any]]]) -> Table:
    columns: tuple[str, ...] = ()
    lines: list[Line] = []
    for number, row in rows:
        cells = [_cell(value) for value in row]
        if all(cell == "" for cell in cells):
            continue
        if not columns:
            columns = _columns(cells)
            continue
        if len(lines) == MAX_ROWS:
            raise TableError(f"There are more than {MAX_ROWS} rows.", remedy="Split the file.")
        lines.append(_line(number, cells, columns))
    if not lines:
        raise TableError("There is no row below a head row.", remedy="Name the columns in row 1.")
    return Table(columns, tuple(lines))


def _cell(value: Any) -> Cell:
    if value is None:
        return ""
    if not isinstance(value, str):
        return value if isinstance(value, bool | int | float) else str(value)
    text = value.strip()
    return text[1:] if _FORMULA.match(text) else text


def _columns(cells: list[Cell]) -> tuple[str, ...]:
    while cells and cells[-1] == "":
        cells = cells[:-1]
    names = tuple(re.sub(r"[\s\-]+", "_", str(cell).lower()) for cell in cells)
    if len(names) > MAX_COLUMNS:
        raise TableError(f"There are more than {MAX_COLUMNS} columns.", remedy="Leave some out.")
    for name in names:
        if not name or names.count(name) > 1:
            what = f"The column {name!r} is there twice." if name else "A column has no name."
            raise TableError(what, remedy="Give each column a name of its own in the head row.")
    return names


def _line(number: int, cells: list[Cell], columns: tuple[str, ...]) -> Line:
    extra = [cell for cell in cells[len(columns) :] if cell != ""]
    fault = "It has more cells than the head row." if extra else ""
    named = dict(zip(columns, cells, strict=False))
    return Line(number, {name: cell for name, cell in named.items() if cell != ""}, fault)
