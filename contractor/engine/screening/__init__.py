"""Screening of a brace layout to published codes. Screening is not engineering design.

Start with ``screen`` and ``spacing_limit``; ``screening_document`` writes the answer.
"""
