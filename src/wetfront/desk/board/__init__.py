"""The board of a running pour: `basis_of` once for a sheet and its plan, `board_of` for each record and minute."""

from wetfront.desk.board.ahead import answer, forecaster_of
from wetfront.desk.board.basis import Basis, basis_of
from wetfront.desk.board.made import board_of

__all__ = ["Basis", "answer", "basis_of", "board_of", "forecaster_of"]
