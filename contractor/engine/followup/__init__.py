"""After the install: due dates, catch-up, quiet hours, opt-out words, tightening steps."""
