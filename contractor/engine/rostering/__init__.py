"""Crew plans: install work by set packing, service visits by vehicle routing."""
