"""The command, the page, the sheets, and the only code that touches a disk."""

__version__ = "0.1.0"
