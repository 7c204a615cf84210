"""The files of a reading table for the firmware: C, self-test, CSV, JSON."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from derate.firmware.table_c import file_names, header_text, source_text
from derate.firmware.table_data import csv_text, json_text
from derate.firmware.table_self_test import self_test_text

if TYPE_CHECKING:
    from derate.sensing.study import ReadingStudy

HASH_DIGITS = 16


def table_files(study: "ReadingStudy") -> dict[str, str]:
    """Name and text of each file; the same study gives the same text."""
    name, table, lines = study.name, study.table, tuple(about(study))
    header, source, test = file_names(name)
    return {
        header: header_text(name, table, lines, study.threshold),
        source: source_text(name, table, lines),
        test: self_test_text(name, table, lines),
        f"{name}_reading.csv": csv_text(table, study.circuit),
        f"{name}_reading.json": json_text(name, table, lines),
    }


def about(study: "ReadingStudy") -> Iterator[str]:
    """Where a table comes from and what it promises, a line a topic."""
    from derate.sensing.description import (
        chain_words,
        situation_words,
        table_words,
        threshold_words,
        window_words,
    )

    source, wanted = study.source, study.wanted
    if "lamp" in source:
        digest = source.get("lamp_sha256", "")[:HASH_DIGITS]
        file = source.get("lamp_file", "none, built in Python")
        yield f"Lamp: {source['lamp']}; file: {file}" + (f", sha256 {digest}" if digest else "")
    yield f"Options: {wanted.words()}"
    yield f"Chain: {chain_words(study.sensor, study.circuit)}"
    yield f"Table: {table_words(study.table)}"
    low_c, high_c = study.range_c
    yield (
        f"Error: at most {study.table.error_k:.4f} K against the ideal chain from {low_c:g} to"
        f" {high_c:g} degC, at every code, rounding included; the parts' own errors come on top"
    )
    opened, shorted = window_words(study.table.window)
    yield f"Open: {opened}"
    yield f"Short: {shorted}"
    yield f"Situation: {situation_words(study.situation)}; errors and trips are told for it"
    if study.threshold is not None:
        yield f"Threshold: {threshold_words(study.threshold)}"
    for warning in study.warnings:
        yield f"Warning: {warning}"
