"""Small wrongs put into C, one at a time, to see whether anything notices.

All mutants of a file are compiled at once: every function that has some becomes one copy for each
and a function of the old name that calls the copy whose number is in ``mutant_now``.
"""

import re
from collections.abc import Iterator
from typing import NamedTuple

TURNED = {
    "<": ("<=", ">="), "<=": ("<", ">"), ">": (">=", "<="), ">=": (">", "<"),
    "==": ("!=",), "!=": ("==",), "&&": ("||",), "||": ("&&",), "<<": (">>",), ">>": ("<<",),
    "+=": ("-=",), "-=": ("+=",), "++": ("--",), "--": ("++",), "/": ("*",), "^": ("|",),
    "|": ("&",),
}  # fmt: skip
TURNED_BETWEEN = {"+": ("-",), "-": ("+",), "*": ("/",), "&": ("|",)}
"""Signs that mean something else where they stand before their only operand."""
TOKEN = re.compile(
    r"[A-Za-z_]\w*|0x[0-9A-Fa-f]+u?|\d+u?|<<|>>|<=|>=|==|!=|&&|\|\||\+\+|--|->|[-+*/|^&]=|\S"
)
FUNCTION = re.compile(
    r"^(?P<head>[a-z][\w *]*?\b(?P<name>\w+)\((?P<parameters>[^{;]*?)\)\n)\{\n(?P<body>.*?)^\}\n",
    re.MULTILINE | re.DOTALL,
)
SILENT = re.compile(r"/\*.*?\*/|//[^\n]*|^[ \t]*#[^\n]*", re.MULTILINE | re.DOTALL)
NUMBER = re.compile(r"(?:0x[0-9A-Fa-f]+|\d+)u?$")
NAMED_NUMBER = re.compile(r"[A-Z][A-Z0-9_]{2,}$")
TYPE = re.compile(r"(?:u?int\d+_t|int|unsigned|const|struct|enum|void)$")


class Mutant(NamedTuple):
    """What stands in a file from ``start`` to ``end`` becomes ``text``; ``function``: in which."""

    function: str
    start: int
    end: int
    text: str


class Change(NamedTuple):
    """A mutant as a reader sees it: the lines before and after, spaces gathered."""

    place: str
    before: str
    after: str


def mutants_of(text: str) -> list[Mutant]:
    """Every mutant of a C file in the style of this project."""
    bare = without_comments(text)
    found: list[Mutant] = []
    for function in FUNCTION.finditer(bare):
        tokens = list(TOKEN.finditer(bare, *function.span("body")))
        changes = [*_turned(tokens), *_moved(tokens), *_settled(tokens), *_dropped(tokens)]
        found += [Mutant(function["name"], *change) for change in changes]
    return found


def without_comments(text: str) -> str:
    """The text with blanks for comments and for lines of the preprocessor."""
    return SILENT.sub(lambda found: re.sub(r"[^\n]", " ", found[0]), text)


def change_of(file: str, text: str, mutant: Mutant) -> Change:
    """How a mutant reads."""
    text = without_comments(text)
    start = text.rfind("\n", 0, mutant.start) + 1
    end = text.find("\n", mutant.end)
    after = text[start : mutant.start] + mutant.text + text[mutant.end : end]
    before, after = (" ".join(part.split()) for part in (text[start:end], after))
    return Change(f"{file}: {mutant.function}", before, after)


def all_in_one(text: str, mutants: list[Mutant], first: int) -> str:
    """The file with all its mutants, numbered from ``first``; number 0 is none of them."""
    bare = without_comments(text)
    parts, done = ["extern int mutant_now;\n"], 0
    for function in FUNCTION.finditer(bare):
        name, start, end = function["name"], *function.span()
        mine = {i: m for i, m in enumerate(mutants, first) if m.function == name}
        copies, cases = [_copy(bare[start:end], name, 0)], []
        given = ", ".join(_names(function["parameters"]))
        for number, m in mine.items():
            body = bare[start : m.start] + m.text + bare[m.end : end]
            copies.append(_copy(body, name, number))
            cases.append(f"    case {number}:\n        return {name}_mutant_{number}({given});\n")
        cases.append(f"    default:\n        return {name}_mutant_0({given});\n")
        chosen = f"{function['head']}{{\n    switch (mutant_now) {{\n{''.join(cases)}    }}\n}}\n"
        parts += [text[done:start], *copies, chosen]
        done = end
    return "".join(parts) + text[done:]


def _copy(text: str, name: str, number: int) -> str:
    renamed = re.sub(rf"\b{name}\(", f"{name}_mutant_{number}(", text, count=1)
    return renamed if renamed.startswith("static ") else f"static {renamed}"


def _names(parameters: str) -> list[str]:
    """What the parameters of a function are called; a function's own are not among them."""
    outer = re.sub(r"\(\*(\w+)\)\s*\([^)]*\)", r"\1", parameters)
    return [re.findall(r"\w+", one)[-1] for one in outer.split(",") if one.strip() != "void"]


def _closes_cast(tokens: list[re.Match[str]], at: int) -> bool:
    """Whether the bracket at ``at`` ends a cast."""
    words = []
    while at > 0 and tokens[at - 1][0] != "(":
        at -= 1
        words.append(tokens[at][0])
    return bool(words) and bool(TYPE.match(words[-1]))


def _between(tokens: list[re.Match[str]], at: int) -> bool:
    """Whether the sign at ``at`` stands between two operands, not in a declaration."""
    before = tokens[at - 1][0]
    if before == ")":
        return not _closes_cast(tokens, at - 1)
    if TYPE.match(before) or (at > 1 and tokens[at - 2][0] in ("struct", "enum")):
        return False
    return before == "]" or (bool(re.match(r"\w+$", before)) and before != "return")


def _turned(tokens: list[re.Match[str]]) -> Iterator[tuple[int, int, str]]:
    """Signs turned round."""
    for at, token in enumerate(tokens):
        turned = TURNED.get(token[0], ())
        if token[0] in TURNED_BETWEEN and at > 0 and _between(tokens, at):
            turned = TURNED_BETWEEN[token[0]]
        for text in turned:
            yield *token.span(), text


def _moved(tokens: list[re.Match[str]]) -> Iterator[tuple[int, int, str]]:
    """Constants one up and one down."""
    for at, token in enumerate(tokens):
        called = at + 1 < len(tokens) and tokens[at + 1][0] == "("
        if NUMBER.match(token[0]):
            value, unsigned = int(token[0].removesuffix("u"), 0), token[0][-1] == "u"
            for moved in {value + 1, abs(value - 1)}:
                yield *token.span(), f"{moved}{'u' if unsigned else ''}"
        elif NAMED_NUMBER.match(token[0]) and not called:
            yield *token.span(), f"({token[0]} + 1)"
            yield *token.span(), f"({token[0]} - 1)"


def _settled(tokens: list[re.Match[str]]) -> Iterator[tuple[int, int, str]]:
    """Conditions that always or never hold."""
    for at, token in enumerate(tokens):
        if token[0] in ("if", "while"):
            end, depth = at + 2, 1
            while depth:
                depth += {"(": 1, ")": -1}.get(tokens[end][0], 0)
                end += 1
            span = tokens[at + 1].start(), tokens[end - 1].end()
            yield *span, "(0)"
            if token[0] == "if":
                yield *span, "(1)"


def _dropped(tokens: list[re.Match[str]]) -> Iterator[tuple[int, int, str]]:
    """Statements left out, but for declarations, and for returns at the end of a function."""
    begin, brackets, braces = 0, 0, 0
    for at, token in enumerate(tokens):
        brackets += {"(": 1, ")": -1}.get(token[0], 0)
        braces += {"{": 1, "}": -1}.get(token[0], 0)
        if brackets or token[0] not in "{};":
            continue
        words = [one[0] for one in tokens[begin : at + 1]]
        unused = words[:3] == ["(", "void", ")"] and len(words) == 5
        last = words[0] == "return" and braces == 0
        if token[0] == ";" and not (TYPE.match(words[0]) or unused or last):
            yield tokens[begin].start(), token.end(), ";"
        begin = at + 1
