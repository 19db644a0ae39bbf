"""Keep a native library's routine chatter off the terminal, and nothing else.

The pose model's library writes to the process's standard error directly and heeds no setting
that would stop it, so the stream itself is held back for a moment and what is not known to be
routine is passed on.
"""

from __future__ import annotations

import os
import re
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager

_ROUTINE = re.compile(
    rb"Created TensorFlow Lite XNNPACK delegate"
    rb"|All log messages before absl::InitializeLog\(\)"
    rb"|Feedback manager requires a model with a single signature"
    rb"|Using NORM_RECT without IMAGE_DIMENSIONS"
)
_STDERR = 2


@contextmanager
def quiet_native() -> Iterator[None]:
    """Hold back standard error while the block runs, then pass on all but the routine lines."""
    sys.stderr.flush()
    with tempfile.TemporaryFile() as held:
        kept = os.dup(_STDERR)
        try:
            os.dup2(held.fileno(), _STDERR)
            yield
        finally:
            sys.stderr.flush()
            os.dup2(kept, _STDERR)
            os.close(kept)
            held.seek(0)
            for line in held:
                if not _ROUTINE.search(line):
                    os.write(_STDERR, line)
