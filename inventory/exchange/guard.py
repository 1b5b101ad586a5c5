"""The one guard against text that a spreadsheet would run as a formula.

A cell that starts with = + - @, a tab or a carriage return is taken for a formula by spreadsheets
(OWASP, "CSV Injection"). Spaces and quotes before it, and the full-width forms of these signs, don't
protect everywhere, so they count as well. Such text gets an apostrophe in front; numbers are no text.
"""

_TRIGGERS = frozenset("=+-@\t\r\n＝＋－＠−")
_QUOTES = frozenset("'\"`´‘’“”„«»＇＂")
#: What has no width but is no space either.
_INVISIBLE = frozenset("\u200b\u200c\u200d\u2060\ufeff\u00ad")


def dangerous(text: str) -> bool:
    """Whether a spreadsheet might take the text for a formula."""
    for char in text:
        if char in _TRIGGERS:
            return True
        if not (char.isspace() or char in _QUOTES or char in _INVISIBLE or ord(char) < 32):
            return False
    return False


def disarmed(text: str) -> str:
    """The text as a cell may hold it: with ' in front where it would be dangerous."""
    return f"'{text}" if dangerous(text) else text


def rearmed(text: str) -> str:
    """The text that `disarmed` was given: takes its apostrophe off again."""
    return text[1:] if text.startswith("'") and dangerous(text[1:]) else text
