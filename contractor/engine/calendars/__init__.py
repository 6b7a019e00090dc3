"""Calendars: time zones, iCalendar feeds out, busy times in, working days and holiday proposals."""
