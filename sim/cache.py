"""The folder for what can be made again: compiled modules, answers of the solver."""

import os
from pathlib import Path


def cache_folder() -> Path:
    """THWART_CACHE, else a folder of the user's own: below LOCALAPPDATA, XDG_CACHE_HOME or `~/.cache`."""
    given = os.environ.get("THWART_CACHE")
    if given:
        return Path(given)
    local = os.environ.get("LOCALAPPDATA") or os.environ.get("XDG_CACHE_HOME")
    return (Path(local) if local else Path.home() / ".cache") / "thwart"
