"""Keep a native library's routine messages off the terminal, and nothing else.

The pose model's library writes to the process's standard error directly, whatever its settings, so
the stream itself is held back for a moment and every line that is not known to be routine is then
passed on.
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
"""Number of the process's standard error stream (POSIX).

Source: definition
"""


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
