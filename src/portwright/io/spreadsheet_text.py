"""Text that a spreadsheet program would run as a formula, made harmless and back."""

from __future__ import annotations

import re

# A cell that starts like this is run as a formula by spreadsheet programs (common practice).
_RISKY = re.compile(r"'*[=+\-@\t\r]")
_NUMBER = re.compile(r"[+-]?[\d.,]+([eE][+-]?\d+)?")


def protect(text: str) -> str:
    """Put an apostrophe before text that a spreadsheet would run; numbers stay as they are."""
    if _RISKY.match(text) and not _NUMBER.fullmatch(text):
        return "'" + text
    return text


def unprotect(text: str) -> str:
    """Take the apostrophe of :func:`protect` off again."""
    return text[1:] if text.startswith("'") and _RISKY.match(text) else text
