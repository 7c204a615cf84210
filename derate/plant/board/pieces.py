"""A board that holes or notches cut in pieces: each must have a way out for its heat."""

from scipy.sparse.csgraph import connected_components

from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.plant.board.full import FullBoard


def demand_ways_out(lamp: Lamp, full: FullBoard) -> None:
    """Raises InputError for a board in pieces that sheds heat by links alone.

    A link takes heat from the mean of the board, so that one piece could warm without end. An
    interface, a front or a back takes it from every piece.
    """
    board = lamp.board
    if board is None or board.faces or board.interface is not None:
        return
    count, _ = connected_components(full.conductance_w_per_k({}), directed=False)
    if count > 1:
        raise InputError(
            f"board.holes: found holes that cut the board in {count} pieces, due a board in one"
            " piece, or an interface, a front or a back that takes heat from each of them"
        )
