"""Tests that need the extra "models": run where it is installed, and always in CI."""

import os
from importlib.util import find_spec

import pytest


def needs_models_extra(*modules: str) -> pytest.MarkDecorator:
    """Skip where one of the extra's modules is not installed; in CI such a test fails."""
    missing = [name for name in modules if find_spec(name) is None]
    return pytest.mark.skipif(
        bool(missing) and not os.environ.get("CI"),
        reason=f'{", ".join(missing)} not installed: pip install -e ".[models]"',
    )
