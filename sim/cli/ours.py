"""Is the package that answers to the name `supervisor` ours?"""

import importlib


def complaint_about_supervisor() -> str | None:
    """None if it is; else what is wrong and what to do. Imports nothing else of Thwart."""
    remedy = (
        "An unrelated process manager on PyPI uses the same import name, and the two cannot share an environment.\n"
        "  Install thwart into a virtual environment of its own:\n"
        "    python -m venv thwart-env && thwart-env/bin/pip install . (in a clone of Thwart)\n"
        "  and check that no folder named 'supervisor' lies where you start it, or on PYTHONPATH."
    )
    try:
        found = importlib.import_module("supervisor")
    except ModuleNotFoundError as error:
        return f"the Python package 'supervisor' cannot be imported ({error}).\n  {remedy}"
    if getattr(found, "THWART", None) is True:
        return None
    place = getattr(found, "__file__", None) or next(iter(getattr(found, "__path__", [])), "an unknown place")
    return f"the Python package 'supervisor' found at {place} is not Thwart's.\n  {remedy}"
