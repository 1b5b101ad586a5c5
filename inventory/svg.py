"""Markup of a drawing that a page may show as it is."""

import re

#: A color that may stand in markup: anything else is no color.
HEX = re.compile(r"#[0-9a-fA-F]{6}")


class Drawing(str):
    """SVG markup of which every part was validated or escaped when it was made."""

    def __html__(self) -> str:
        """Tell a template engine that this needs no further escaping."""
        return str(self)
