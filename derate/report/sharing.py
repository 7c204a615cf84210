"""How the channels share the limit, in one sentence and for machines."""

from typing import TYPE_CHECKING, Any

from derate.report.words import number

if TYPE_CHECKING:
    from derate.lamp.lamp import Lamp


def sharing_sentence(lamp: "Lamp") -> str | None:
    """The way, what it gives at half the limit, what that rests on; None for the same share."""
    from derate.control.shares import ONE_Q15, SEGMENTS, shares_of

    shares = shares_of(lamp)
    if shares is None:
        return None
    half = (knots[SEGMENTS // 2] / ONE_Q15 for knots in shares.knots_q15)
    given = ", ".join(
        f"{name} {100 * share:.0f} %" for name, share in zip(lamp.channels, half, strict=True)
    )
    chosen = lamp.controller.sharing.request
    asked = ", ".join(f"{name} {100 * share:g} %" for name, share in chosen.items())
    low_c, high_c = (number(at_c, 0) for at_c in shares.ambient_c)
    air = f"{low_c} to {high_c} degC, where the same share just holds every limit"
    if lamp.controller.sharing.ambient_c is not None:
        air = f"{low_c} degC"
    return (
        f"{lamp.controller.sharing.way}; at a limit of 50 %: {given}; for requests of "
        f"{asked or '100 %'}, from the lamp at rest in air of {air}"
    )


def sharing_numbers(lamp: "Lamp") -> dict[str, Any]:
    """Way, and where it has a table, shares [0..1] by channel at limits [0..1] and its ambients."""
    from derate.control.shares import LIMITS_Q15, ONE_Q15, shares_of

    shares, way = shares_of(lamp), lamp.controller.sharing.way
    if shares is None:
        return {"way": way}
    by_channel = zip(lamp.channels, shares.knots_q15, strict=True)
    return {
        "way": way,
        "limit": [at / ONE_Q15 for at in LIMITS_Q15],
        "share": {name: [at / ONE_Q15 for at in knots] for name, knots in by_channel},
        "ambient_c": list(shares.ambient_c),
    }
