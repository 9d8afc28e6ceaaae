"""Thwart: supervisory control of charging and discharging for parallel hybrid boat drives.

Sans-IO: inputs in, commands out, time passed in. Importing this package loads no bus library.
"""

THWART = True
"""Marks this package as ours: the import name is shared with an unrelated process manager on PyPI."""
