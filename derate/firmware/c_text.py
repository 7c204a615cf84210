"""Pieces of C that generated files are made of: comments, constants, arrays."""

import textwrap
from collections.abc import Sequence

LINE_WIDTH = 96
SIGNED_LIMIT = 0x7FFF


def comment(text: str) -> str:
    """Text that can stand in a C comment: plain ASCII on one line, nothing that ends it early."""
    plain = " ".join(text.encode("ascii", "replace").decode().split()).replace("\\", "/")
    return (
        "".join(c if c.isprintable() else "?" for c in plain)
        .replace("*/", "* /")
        .replace("/*", "/ *")
        .replace("??", "? ?")
    )


def constant(value: int) -> str:
    """A constant that is right where int has 16 bits."""
    return f"{value}u" if value > SIGNED_LIMIT else str(value)


def array(declaration: str, values: Sequence[int]) -> str:
    """An array of constants; ``declaration`` is what stands before the brackets."""
    numbers = ", ".join(constant(int(value)) for value in values)
    body = textwrap.fill(numbers, LINE_WIDTH, initial_indent="    ", subsequent_indent="    ")
    return f"{declaration}[] = {{\n{body}\n}};\n"
