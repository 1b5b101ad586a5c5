"""Reading one line of a sheet, cell by cell: what is wrong is noted at its column."""

from collections.abc import Callable
from typing import Any

from inventory.exchange import notation as notations
from inventory.exchange.notation import Notation
from inventory.exchange.table import Cell, Record, Trouble


class Line:
    """A line being read. A sheet's own line derives from it and says what its cells mean."""

    def __init__(self, record: Record, notation: Notation, troubles: list[Trouble]) -> None:
        self.record, self.notation, self.troubles = record, notation, troubles

    def cell(self, column: str, reader: Callable[[Cell], Any]) -> Any:
        """What the reader makes of a cell; None when it is empty or wrong (its ValueError is noted)."""
        cell = self.record.cells.get(column)
        if cell is None or not cell.text or cell.trouble:
            return None
        try:
            return reader(cell)
        except ValueError as error:
            self.wrong(column, str(error))
            return None

    def wrong(self, column: str, text: str) -> None:
        read = self.record.text(column)
        self.troubles.append(Trouble(self.record.line, column, text, read))

    def pointed(self, cell: Cell) -> str:
        """A figure with a decimal point, however the file writes it."""
        return notations.figure(cell, self.notation)
