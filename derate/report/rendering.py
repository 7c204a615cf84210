"""From a template of this room to the text of a page, numbers in plain words."""

from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from derate.report import words


def rendered(template: str, content: dict[str, Any]) -> str:
    """The page of ``template`` with ``content``; what is text is escaped."""
    environment = Environment(
        loader=PackageLoader("derate.report", "."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["number"] = _number
    for filter_of in (words.typeset, words.duration, words.percent, words.figures, words.small):
        environment.filters[filter_of.__name__] = filter_of
    return environment.get_template(template).render(**content) + "\n"


def _number(value: float, digits: int = 1) -> str:
    return words.typeset(words.number(value, digits))
