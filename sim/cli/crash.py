"""What is left of a fault of the program itself: a file with the traceback, for its makers."""

import os
import sys
import tempfile
import traceback


def keep_traceback(error: Exception) -> str:
    """Write the traceback to a new temporary file; returns its path, or, where that cannot be written, its text."""
    text = "".join(traceback.format_exception(error))
    try:
        handle, path = tempfile.mkstemp(prefix="thwart-fault-", suffix=".txt")
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(f"{' '.join(sys.argv)}\nPython {sys.version}\n\n{text}")
    except OSError as why:
        return f"these lines (no file could be written: {why.strerror}):\n{text}"
    return path
