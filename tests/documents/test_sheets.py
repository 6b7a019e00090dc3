"""Printed sheets: the same bytes each time, what they must say, and nothing from outside."""

from __future__ import annotations

import base64
import io
import re
import subprocess
import sys
from html.parser import HTMLParser

import pytest
from pypdf import PdfReader

from contractor.documents import calculation, install_sheet, to_html, to_pdf
from contractor.documents.codes import qr_svg
from contractor.documents.sheet import Check, Matrix, Sheet, short_length
from tests.documents.sheets import (
    ALL,
    calculation_sheet,
    drawings,
    found,
    homeowner,
    install,
    kit,
    length,
    pull,
    tickets,
)


def pages(sheet: Sheet) -> list[str]:
    reader = PdfReader(io.BytesIO(to_pdf(sheet)))
    return [" ".join(page.extract_text().split()) for page in reader.pages]


@pytest.mark.parametrize("name", sorted(ALL))
def test_a_pdf_is_the_same_byte_for_byte(name: str) -> None:
    first, second = to_pdf(ALL[name]()), to_pdf(ALL[name]())
    assert first == second
    assert first.startswith(b"%PDF-")
    assert b"/CreationDate" not in first and b"ModDate" not in first


def test_a_pdf_is_the_same_in_another_process() -> None:
    code = (
        "import sys, hashlib; from contractor.documents import to_pdf; "
        "from tests.documents.sheets import pull; "
        "sys.stdout.write(hashlib.sha256(to_pdf(pull())).hexdigest())"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    import hashlib

    assert run.stdout == hashlib.sha256(to_pdf(pull())).hexdigest()


def test_documents_need_no_django() -> None:
    code = (
        "import sys; from contractor.documents import calculation, to_pdf, cut_tickets; "
        "assert 'django' not in sys.modules and 'typst' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)


class Page(HTMLParser):
    """Collects tags that do not close and addresses that leave the page."""

    VOID = frozenset({"meta", "img", "br", "link", "source"})

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.addresses: list[str] = []
        self.without_alt = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = dict(attrs)
        self.addresses += [v for k, v in attrs if k in ("src", "href", "srcset") and v]
        self.without_alt += tag == "img" and not values.get("alt")
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


@pytest.mark.parametrize("name", sorted(ALL))
def test_html_is_whole_and_asks_nothing_from_outside(name: str) -> None:
    html = to_html(ALL[name]())
    page = Page()
    page.feed(html)
    assert page.open == []
    assert page.without_alt == 0
    assert all(address.startswith("data:image/svg+xml") for address in page.addresses)
    assert "@import" not in html and "url(" not in html
    assert 'name="viewport"' in html
    assert html == to_html(ALL[name]())


# ---------------------------------------------------------------- calculation sheet


def test_the_calculation_sheet_follows_every_number_to_a_clause() -> None:
    screening = found("north wall")["screening"]
    text = " ".join(pages(calculation_sheet()))
    assert "Within screening limits." in text
    assert screening["input_hash"][:16] in text
    assert screening["engine_version"] in text
    assert "a licensed engineer decide" in text
    assert "Note of the engineer" in text
    for group in screening["classes"]:
        for check in group["checks"]:
            assert check["title"] in text
            assert check["clause"].split(",")[0] in text
    html = to_html(calculation_sheet())
    (bending,) = [c for c in screening["classes"][0]["checks"] if c["code"] == "beam_bending"]
    for row in bending["lines"]:
        for part in (row["formula"], row["substituted"], row["result"]["text"], row["clause"]):
            assert part.replace("&", "&amp;") in html


def test_assumptions_and_unknowns_come_before_the_first_number() -> None:
    first = pages(calculation_sheet())[0]
    order = [first.index(word) for word in ("Assumptions", "Not known", "Mind", "Beam")]
    assert order == sorted(order)
    for note in found("north wall")["screening"]["assumptions"]:
        assert " ".join(note["text"].split()) in first


def test_each_brace_class_has_its_own_page() -> None:
    classes = found("north wall")["screening"]["classes"]
    starts = [page for page in pages(calculation_sheet()) if re.match(r"Class \d+: B", page)]
    assert len(starts) == len(classes)


def test_reasons_for_review_come_first_with_their_source() -> None:
    screening = found("south wall")["screening"]
    assert screening["outcome"] == "engineer review needed"
    first = pages(calculation_sheet("south wall"))[0]
    assert "Engineer review needed, for these reasons:" in first
    for reason in screening["reasons"]:
        assert " ".join(reason["text"].split()) in first
    assert first.index("for these reasons") < first.index("Assumptions")


def test_what_cannot_be_computed_says_why() -> None:
    sheet = calculation_sheet("south wall")
    missing = [b for b in sheet.blocks if isinstance(b, Check) and b.ratio is None]
    assert missing and all(check.reason for check in missing)
    assert "not computed" in " ".join(pages(sheet))


def test_a_check_above_its_limit_is_marked() -> None:
    check = Check("Beam", "2 kip", "1 kip", 2.0, "G2", "derived", "", ())
    assert not check.passes
    html = to_html(Sheet("t", "", (check,)))
    assert '<span class="ratio fails">200.0 %</span>' in html
    assert "200 %" in pages(Sheet("t", "", (check,)))[0]


@pytest.mark.parametrize("name", sorted(ALL))
def test_no_sheet_gives_a_verdict_that_is_not_ours_to_give(name: str) -> None:
    text = to_html(ALL[name]()).lower()
    assert "approved" not in text
    assert not re.search(r"\bsafe\b", text)


# ---------------------------------------------------------------- the others


def test_drawings_fill_landscape_pages_in_true_scale() -> None:
    """ISO 216: A4 is 210 mm x 297 mm; 72 points to the inch."""
    reader = PdfReader(io.BytesIO(to_pdf(drawings())))
    assert len(reader.pages) >= 2
    for page in reader.pages:
        assert float(page.mediabox.width) == pytest.approx(297 / 25.4 * 72, abs=0.1)
        assert float(page.mediabox.height) == pytest.approx(210 / 25.4 * 72, abs=0.1)
        assert "licensed engineer" in page.extract_text()
    assert "Framing plan" in reader.pages[-1].extract_text()


def test_the_install_sheet_is_a_checklist_per_brace() -> None:
    sheet = install()
    layout = found("north wall")["layout"]
    matrices = [b for b in sheet.blocks if isinstance(b, Matrix)]
    marks = [mark for matrix in matrices[:-1] for mark in matrix.columns]
    assert marks == [brace["mark"] for brace in layout["braces"]]
    boxes = [label for label, kind, _ in matrices[0].rows if kind == "box"]
    assert boxes == list(install_sheet.STEPS.values())
    text = " ".join(pages(sheet))
    for brace in layout["braces"]:
        assert brace["beam_length"]["text"] in text
    for caution in install_sheet.CAUTIONS:
        assert caution in text
    assert "Height measured" in text and "Label date" in text


def test_the_torque_is_never_above_what_the_screening_allows() -> None:
    answer = found("north wall")
    allowed = answer["screening"]["torque"]["allowed"]
    assert allowed["value"] < answer["bill"]["hardware"]["torque"]["value"] == 50
    text = " ".join(pages(install()))
    assert f"{allowed['text']} (the screening's limit), never more" in text
    assert "50 lbf ft" not in text
    high = answer["screening"] | {"torque": {"allowed": {"value": 90.0, "text": "90 lbf ft"}}}
    assert install_sheet.torque_text(answer["bill"], high) == "50 lbf ft"
    assert install_sheet.torque_text(answer["bill"], None) == "50 lbf ft"


def test_bracket_turned_where_joists_run_along_the_wall() -> None:
    text = " ".join(pages(install("south wall")))
    assert "bracket turned a quarter turn" in text


def test_the_pull_sheet_shows_bins_shortage_and_lifting() -> None:
    text = pages(pull())[0]
    assert "R1-03, lot H2231" in text
    assert text.count("HB-58-3") == 2
    assert "Steel beam S5x10 A36 B1: 77.5 lb" in text
    metric = kit()
    metric["lines"][0]["weight_each"] = {"value": 20.0, "unit": "kg", "text": "20 kg"}
    from contractor.documents import pull_sheet

    assert "Two people lift" not in " ".join(pages(pull_sheet.render(metric)))


def test_cut_tickets_have_a_label_and_a_code_for_each_piece() -> None:
    text = pages(tickets())
    assert "Bar 1: full bar 20'-0\", heat H2231" in text[0]
    assert "keep, tag OC-118" in text[0]
    assert "1/8 in, end trim 1/4 in" in text[0]
    assert [f"piece {n}" in text[1] for n in (11, 12)] == [True, True]
    html = to_html(tickets())
    codes = [base64.b64decode(c).decode() for c in re.findall(r"svg\+xml;base64,([^\"]+)", html)]
    assert codes == [qr_svg("piece 11"), qr_svg("piece 12")]


def test_a_code_has_the_quiet_zone_of_the_standard() -> None:
    """ISO/IEC 18004: version 1 has 21 modules, with a quiet zone of 4 on every side."""
    svg = qr_svg("piece 11")
    (side,) = set(re.findall(r'(?:width|height)="(\d+)"', svg))
    assert int(side) == (21 + 8) * 4
    assert qr_svg("piece 11") == svg != qr_svg("piece 12")


def test_the_homeowner_sheet() -> None:
    text = pages(homeowner())[0]
    assert "Tighten to 22 lbf ft. Never more." in text
    assert "Stop, and call Sample Wall Works at 555-0134, when" in text
    assert "4 September 2026" in text and "4 March 2027" in text
    assert "https://example.org/w/8f3k" in text


def test_lengths_below_a_foot_read_like_on_site() -> None:
    assert short_length(length(0.125, "0'-0 1/8\"")) == "1/8 in"
    assert short_length(length(4.5, "0'-4 1/2\"")) == "4 1/2 in"
    assert short_length(length(0, "0'-0\"")) == "0 in"
    assert short_length(length(93, "7'-9\"")) == "7'-9\""


def test_words_from_outside_are_only_words() -> None:
    screening = found("north wall")["screening"] | {"wall": '<script>#set "x"\\'}
    sheet = calculation.render(screening)
    assert "<script>" not in to_html(sheet)
    assert '<script>#set "x"\\' in pages(sheet)[0]
