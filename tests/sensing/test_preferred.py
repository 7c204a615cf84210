"""Preferred resistor values."""

from derate.sensing.preferred import decade, preferred_ohm

E12 = "10 12 15 18 22 27 33 39 47 56 68 82"
E24 = "10 11 12 13 15 16 18 20 22 24 27 30 33 36 39 43 47 51 56 62 68 75 82 91"
E96 = """
100 102 105 107 110 113 115 118 121 124 127 130 133 137 140 143 147 150 154 158 162 165 169 174
178 182 187 191 196 200 205 210 215 221 226 232 237 243 249 255 261 267 274 280 287 294 301 309
316 324 332 340 348 357 365 374 383 392 402 412 422 432 442 453 464 475 487 499 511 523 536 549
562 576 590 604 619 634 649 665 681 698 715 732 750 768 787 806 825 845 866 887 909 931 953 976
"""


def test_the_series_are_those_printed():
    """E12, E24 and E96 as IEC 60063 prints them (recalled from memory)."""
    for series, printed in (("E12", E12), ("E24", E24), ("E96", E96)):
        assert decade(series) == tuple(int(value) for value in printed.split())


def test_resistors_between_two_ends():
    """Values rise over decades, ends included, and are the floats one would write."""
    assert preferred_ohm("E12", 820.0, 1500.0) == [820.0, 1e3, 1.2e3, 1.5e3]
    assert preferred_ohm("E96", 9.09, 10.2) == [9.09, 9.31, 9.53, 9.76, 10.0, 10.2]
    assert preferred_ohm("E24", 4.69e3, 4.71e3) == [4.7e3]
    assert preferred_ohm("E12", 0.9, 1.1) == [1.0]
