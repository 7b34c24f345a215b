"""Hypothesis without a deadline: the machine may be busy, and nothing here is about speed."""

from hypothesis import settings

settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")
