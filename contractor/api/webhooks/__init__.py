"""Signed webhooks (Standard Webhooks 1.0.0): addresses, signatures, sending, retrying."""
