"""Fixtures for all tests. Made-up results come from ``factories``, which tests import by name."""
