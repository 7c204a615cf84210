"""A small wrong anywhere in the reference C is noticed, but for those that cannot matter."""

import os

import pytest

from tests.firmware.mutant_trial import HOMES, changes, known, made, surviving
from tests.firmware.mutants import all_in_one, change_of, mutants_of
from tests.firmware.subjects import SUBJECTS, needs_gcc

LEAST = 1000
"""Mutants in all; a hundred would be usual."""
SMALL = """\
#define MOST 3
/* twice, a < b */
static int twice(const int *value, int most)
{
    int sum = (int)-*value;
    if (sum < MOST) {
        sum = sum * 2;
    }
    return sum;
}
"""
needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="mutants are tried in forks")


@needs_gcc
@needs_fork
@pytest.mark.parametrize("home", HOMES)
def test_every_mutant_is_noticed(home):
    """Those that survive are the ones listed with a reason, no more and no fewer."""
    files = {f"{name}.c" for name in HOMES[home]}
    listed = {change for change in known() if change.place.split(":")[0] in files}
    assert set(changes(surviving(home))) == listed


def test_all_of_the_c_is_mutated():
    """Every file has its home, there are many mutants, and every survivor has a reason."""
    assert {f.stem for one in SUBJECTS.values() for f in one.tested} == {
        name for names in HOMES.values() for name in names
    }
    every = [change for home in HOMES for change in changes(made(home))]
    assert len(every) > LEAST
    assert set(known()) <= set(every)
    assert all(known().values())


def test_mutants_are_small_and_where_they_should_be():
    """Signs, constants, conditions and statements; not declarations, casts, comments or macros."""
    found = {change_of("small.c", SMALL, mutant)[1:] for mutant in mutants_of(SMALL)}
    condition, product = "if (sum < MOST) {", "sum = sum * 2;"
    assert found == {
        (condition, "if (sum <= MOST) {"),
        (condition, "if (sum >= MOST) {"),
        (condition, "if (sum < (MOST + 1)) {"),
        (condition, "if (sum < (MOST - 1)) {"),
        (condition, "if (0) {"),
        (condition, "if (1) {"),
        (product, "sum = sum / 2;"),
        (product, "sum = sum * 3;"),
        (product, "sum = sum * 1;"),
        (product, ";"),
    }


def test_all_mutants_go_into_one_file():
    """One copy of the function for each, one as it was, and one that chooses."""
    mutants = mutants_of(SMALL)
    text = all_in_one(SMALL, mutants, 1)
    assert text.count("static int twice_mutant_") == len(mutants) + 1
    assert f"case {len(mutants)}:\n        return twice_mutant_{len(mutants)}(value, most);" in text
