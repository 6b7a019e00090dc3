"""Views of the shared rows: company, people, tokens, events, documentation."""
