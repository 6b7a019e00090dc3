"""A sheet as one HTML file: no outside request, readable at 360 px, fit to print."""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterable
from html import escape
from typing import Any

from contractor.documents.sheet import (
    Blank,
    Block,
    Break,
    Caution,
    Check,
    Facts,
    Heading,
    Line,
    Listing,
    Matrix,
    Paragraph,
    Picture,
    Sheet,
    Table,
    Tickets,
    Workings,
)
from contractor.documents.style import STYLE


def to_html(sheet: Sheet) -> str:
    """Return the whole page."""
    body = "\n".join(_block(block) for block in sheet.blocks)
    marks = " · ".join(escape(mark) for mark in sheet.marks)
    css = "landscape" if sheet.is_landscape else "portrait"
    return (
        f'<!doctype html>\n<html lang="{escape(sheet.language)}">\n<head>\n'
        '<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(sheet.title)}</title>\n<style>{STYLE}</style>\n</head>\n"
        f'<body class="{css}">\n<main>\n<h1>{escape(sheet.title)}</h1>\n'
        f'<p class="soft">{escape(sheet.subtitle)}</p>\n{body}\n</main>\n'
        f"<footer><p>{escape(sheet.caution)}</p><p>{marks}</p></footer>\n</body>\n</html>\n"
    )


def _block(block: Block) -> str:
    return _WRITERS[type(block)](block)


def _heading(block: Heading) -> str:
    css = ' class="new-page"' if block.is_new_page else ""
    return f"<h{block.level}{css}>{escape(block.text)}</h{block.level}>"


def _paragraph(block: Paragraph) -> str:
    names = [n for n, on in (("strong", block.is_strong), ("large", block.is_large)) if on]
    css = f' class="{" ".join(names)}"' if names else ""
    return f"<p{css}>{escape(block.text)}</p>"


def _caution(block: Caution) -> str:
    title = f"<strong>{escape(block.title)}</strong>" if block.title else ""
    texts = "".join(f"<p>{escape(text)}</p>" for text in block.texts)
    return f'<section class="caution">{title}{texts}</section>'


def _listing(block: Listing) -> str:
    tag = "ol" if block.is_numbered else "ul"
    items = "".join(f"<li>{escape(item)}</li>" for item in block.items)
    return f"<{tag}>{items}</{tag}>"


def _facts(block: Facts) -> str:
    rows = "".join(f"<dt>{escape(a)}</dt><dd>{escape(b)}</dd>" for a, b in block.rows)
    return f"<dl>{rows}</dl>"


def _cells(values: Iterable[str], block: Table, tag: str) -> str:
    cells = []
    for column, value in zip(block.columns, values, strict=True):
        css = [column.align] + (["code"] if column.is_code and tag == "td" else [])
        label = f' data-name="{escape(column.name)}"' if tag == "td" else ""
        cells.append(f'<{tag} class="{" ".join(css)}"{label}>{escape(value)}</{tag}>')
    return "".join(cells)


def _table(block: Table) -> str:
    head = _cells((column.name for column in block.columns), block, "th")
    rows = "".join(f"<tr>{_cells(row, block, 'td')}</tr>" for row in block.rows)
    foot = f"<tfoot><tr>{_cells(block.total, block, 'td')}</tr></tfoot>" if block.total else ""
    form = ' class="form"' if block.is_form else ""
    return (
        f'<div class="wide"><table{form}><thead><tr>{head}</tr></thead><tbody>{rows}</tbody>{foot}'
        "</table></div>"
    )


def _check(block: Check) -> str:
    if block.ratio is None:
        result = '<span class="ratio fails">not computed</span>'
    else:
        percent, css = 100 * block.ratio, "" if block.passes else " fails"
        result = (
            f'<span class="numbers">{escape(block.demand)} of {escape(block.capacity)}</span>'
            f'<span class="bar{css}"><i style="width:{min(percent, 100):.1f}%"></i></span>'
            f'<span class="ratio{css}">{percent:.1f} %</span>'
        )
    reason = f'<p class="fails">{escape(block.reason)}</p>' if block.reason else ""
    lines = "".join(_line(line) for line in block.lines)
    return (
        f'<section class="check"><header><strong>{escape(block.title)}</strong> '
        f'<span class="soft">{escape(block.clause)}</span>{result}</header>{reason}'
        f'<div class="lines">{lines}</div></section>'
    )


def _workings(block: Workings) -> str:
    lines = "".join(_line(line) for line in block.lines)
    return (
        f'<section class="check"><header><strong>{escape(block.title)}</strong></header>'
        f'<div class="lines">{lines}</div></section>'
    )


def _line(line: Line) -> str:
    numbers = f"<br>= {escape(line.substituted)}" if line.substituted != line.formula else ""
    basis = "" if line.basis in ("derived", "read") else f" · {escape(line.basis)}"
    return (
        f'<div class="line"><span><b>{escape(line.symbol)}</b> <small>{escape(line.label)}</small>'
        f"</span><span>{escape(line.formula)}{numbers}</span><span><b>{escape(line.result)}</b> "
        f"<small>{escape(line.clause)}{basis}</small></span></div>"
    )


def _picture(block: Picture) -> str:
    """Return an image, not inline SVG: its style and ids stay its own."""
    narrow = (
        f'<source media="(max-width: 560px)" srcset="{_data_url(block.narrow)}">'
        if block.narrow
        else ""
    )
    return (
        f'<figure><picture>{narrow}<img alt="{escape(block.alt)}" src="{_data_url(block.svg)}" '
        f'style="width:{100 * block.share:.0f}%"></picture></figure>'
    )


def _data_url(svg: str) -> str:
    return f"data:image/svg+xml;base64,{base64.b64encode(svg.encode()).decode()}"


def _matrix(block: Matrix) -> str:
    head = "".join(f"<th>{escape(name)}</th>" for name in block.columns)
    rows = []
    for label, kind, values in block.rows:
        filled = [*values, *[""] * (len(block.columns) - len(values))]
        inside = {"box": '<span class="box"></span>', "blank": '<span class="fill"></span>'}
        cells = "".join(f"<td>{inside.get(kind, escape(value))}</td>" for value in filled)
        rows.append(f"<tr><th>{escape(label)}</th>{cells}</tr>")
    return (
        f'<div class="wide"><table class="matrix"><thead><tr><th></th>{head}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table></div>"
    )


def _blank(block: Blank) -> str:
    lines = '<div class="rule"></div>' * block.lines
    return f'<section class="blank"><p class="soft">{escape(block.title)}</p>{lines}</section>'


def _tickets(block: Tickets) -> str:
    made = []
    for ticket in block.items:
        lines = "".join(f"<p>{escape(line)}</p>" for line in ticket.lines)
        code = _picture(Picture(ticket.code_svg, ticket.code_text))
        made.append(
            f'<article><div><h3>{escape(ticket.mark)}</h3>{lines}</div><div class="code">{code}'
            f"<small>{escape(ticket.code_text)}</small></div></article>"
        )
    return f'<div class="tickets">{"".join(made)}</div>'


def _break(block: Break) -> str:
    return '<div class="new-page"></div>'


_WRITERS: dict[type, Callable[[Any], str]] = {
    Heading: _heading,
    Paragraph: _paragraph,
    Caution: _caution,
    Listing: _listing,
    Facts: _facts,
    Table: _table,
    Check: _check,
    Workings: _workings,
    Picture: _picture,
    Matrix: _matrix,
    Blank: _blank,
    Tickets: _tickets,
    Break: _break,
}
