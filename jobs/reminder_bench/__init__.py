"""Thousands of reminders, workers that are killed: is every message sent exactly once?"""
