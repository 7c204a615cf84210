"""The reading table that keeps to what is wanted, and why there is none."""

from derate.errors import InputError
from derate.sensing.circuit import Circuit
from derate.sensing.tables import (
    KINDS,
    ReadingTable,
    allowed,
    build_table,
    least_error_k,
    smallest_tables,
)
from derate.sensing.wanted import Wanted


def table_for(
    circuit: Circuit, range_c: tuple[float, ...], wanted: Wanted, *, where: str = "sensor"
) -> ReadingTable:
    """The table that keeps to what is wanted: 0.1 K at worst unless told otherwise.

    Without a kind: of all kinds the smallest within an error, or the best within a size.
    """
    allowed(wanted.max_error_k, wanted.max_bytes, where=where)

    def made(kind: str) -> ReadingTable:
        return build_table(
            circuit,
            range_c,
            kind=kind,
            max_error_k=wanted.max_error_k,
            max_bytes=wanted.max_bytes,
            scale=wanted.scale,
            where=where,
        )

    if wanted.kind is not None:
        return made(wanted.kind)
    least = _refusal(circuit, range_c, wanted, where)
    found = []
    for kind in KINDS:
        try:
            found.append(made(kind))
        except InputError:
            continue  # another kind may do
    if not found:
        raise InputError(least)
    if wanted.max_bytes is None:
        return min(found, key=lambda table: (table.bytes, table.operations))
    return min(found, key=lambda table: (table.error_k, table.bytes))


def _refusal(circuit: Circuit, range_c: tuple[float, ...], wanted: Wanted, where: str) -> str:
    """What to say when no kind will do; InputError when the chain itself allows no table."""
    begins = f"{where}: no table of any kind in steps of 1/{wanted.scale} K keeps within"
    if wanted.max_bytes is not None:
        smallest = smallest_tables(circuit, range_c, scale=wanted.scale, where=where)
        size = min(table.bytes for table in smallest)
        return f"{begins} {wanted.max_bytes} bytes; the least possible is {size} bytes"
    least_k = least_error_k(circuit, range_c, scale=wanted.scale, where=where)
    return f"{begins} {wanted.error_k:g} K; the least possible is {least_k:.2g} K"
