"""Pages for people without an account: unsubscribe, the homeowner's page."""
