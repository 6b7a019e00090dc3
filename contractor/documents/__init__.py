"""Printed matter: one ``render()`` per kind gives a sheet, ``to_html`` and ``to_pdf`` write it.

Kinds: ``calculation``, ``drawing_sheet``, ``install_sheet``, ``pull_sheet``, ``cut_tickets``,
``homeowner_sheet``. Nothing here needs a configured Django.
"""

from contractor.documents.html import to_html
from contractor.documents.pdf import to_pdf
from contractor.documents.sheet import Sheet

__all__ = ["Sheet", "to_html", "to_pdf"]
