"""How parallel branches share a channel's current.

Every branch has the same voltage, and the currents add up to the channel's. With w the voltage
per emitter, and d_b what branch b's offset and mean junction temperature add to the table,

    V_ref(I_b) + d_b = w,    sum of count_b I_b = I
    d_b = offset_b + slope (mean of T over the branch's emitters - T_ref)

A branch that is warmer by a falling voltage takes more current and so becomes warmer still.
"""

import numpy as np
from numpy.typing import NDArray

from derate.plant.curve import MOST_HALVINGS
from derate.plant.emitter import ln_current_at, voltage_slope_v, voltage_v
from derate.plant.kernel import kernel

Array = NDArray[np.float64]

EXACT = 1e-13
"""The currents add up to the channel's within this relative error."""


@kernel
def share(
    table: Array, total_a: float, count: Array, shift_v: Array, current_a: Array, guess_v: float
) -> float:
    """Fill ``current_a`` [A, one per kind of branch] and return w [V].

    ``table``: voltage curve; ``count``: branches of each kind; ``shift_v``: their d_b [V];
    ``guess_v``: a w to start from, or nan. Equal currents bracket w; inside, Newton's method on
    ln(sum of currents) against w, which is nearly a straight line, halving where it would leave.
    """
    branches, least_v, most_v = 0.0, np.inf, -np.inf
    for b in range(len(count)):
        branches += count[b]
        least_v, most_v = min(least_v, shift_v[b]), max(most_v, shift_v[b])
    equal_v = voltage_v(table, np.log(total_a / branches))
    low, high = equal_v + least_v, equal_v + most_v
    w = guess_v if low <= guess_v <= high else 0.5 * (low + high)
    total = total_a
    for _ in range(MOST_HALVINGS):
        total, growth = 0.0, 0.0
        for b in range(len(count)):
            ln_current = ln_current_at(table, w - shift_v[b])
            current_a[b] = np.exp(ln_current)
            total += count[b] * current_a[b]
            growth += count[b] * current_a[b] / voltage_slope_v(table, ln_current)
        miss = np.log(total / total_a)
        if abs(miss) <= EXACT or not low < high:
            break
        low, high = (low, w) if miss > 0.0 else (w, high)
        step = -miss * total / growth
        after = w + step if low <= w + step <= high else 0.5 * (low + high)
        if after == w:
            break
        w = after
    for b in range(len(count)):
        current_a[b] *= total_a / total
    return w
