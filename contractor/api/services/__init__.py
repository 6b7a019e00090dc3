"""Verbs over the shared rows, one transaction each."""
