"""Where labels go so that none covers another."""

from collections.abc import Sequence


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Positions at least ``gap`` apart and as near to the wanted ones as can be (least squares).

    Their order stays. They lie within ``low``..``high`` if there is room for all, else they
    start at ``low`` and run over. All in one unit of length along the axis.
    """
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    blocks: list[tuple[float, int]] = []
    for rank, i in enumerate(order):
        mean, count = wanted[i] - rank * gap, 1
        while blocks and blocks[-1][0] >= mean:
            before, many = blocks.pop()
            mean = (before * many + mean * count) / (many + count)
            count += many
        blocks.append((mean, count))
    top = max(low, high - (len(order) - 1) * gap)
    level = [min(max(mean, low), top) for mean, count in blocks for _ in range(count)]
    placed = [0.0] * len(order)
    for rank, i in enumerate(order):
        placed[i] = level[rank] + rank * gap
    return placed


def rows_for(
    starts: Sequence[float], widths: Sequence[float], rows: int, end: float
) -> list[tuple[int, bool] | None]:
    """Row and side of each label that stands beside its mark at ``starts``, in rising order.

    A label runs to the right of its mark, or to the left (True) where it would pass ``end``. One
    that finds no room in any row gets None.
    """
    taken = [float("-inf")] * rows
    places: list[tuple[int, bool] | None] = []
    for start, width in zip(starts, widths, strict=True):
        leftward = start + width > end
        begin = start - width if leftward else start
        row = next((r for r in range(rows) if taken[r] <= begin), None)
        if row is not None:
            taken[row] = start if leftward else start + width
        places.append(None if row is None else (row, leftward))
    return places
