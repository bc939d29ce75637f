"""The files that a conversion leaves: the result, its change log, its summary."""

import json

from arrange.changes import to_lines
from arrange.pipeline import Conversion
from arrange.report.lever_records import Record

RESULT = ""
"""Stands for the result itself among the endings of its other files."""
LOG, SUMMARY, IMPORTED = "changes.jsonl", "summary.json", "imported.musicxml"
REJECTED = "rejected"
"""A result that fails its own check or audit is kept under this ending instead."""


def result_files(
    conversion: Conversion, record: Record, *, is_imported: bool = False
) -> dict[str, bytes]:
    """The bytes of every file, by its ending (see `Target.beside`).

    Args:
        conversion: what came of it.
        record: its summary.
        is_imported: the source came in through another format's reader; the MusicXML that was
            made of it is kept.
    """
    log = to_lines(conversion.log, _header(record)).encode()
    told = (json.dumps(record, indent=2, ensure_ascii=False) + "\n").encode()
    if not conversion.is_sound:
        return {
            REJECTED: conversion.result,
            f"{REJECTED}.{LOG}": log,
            f"{REJECTED}.{SUMMARY}": told,
        }
    contents = {RESULT: conversion.result, LOG: log, SUMMARY: told}
    if is_imported:
        contents[IMPORTED] = conversion.source.score_bytes
    return contents


def _header(record: Record) -> Record:
    return {
        "source": record["source"],
        "result": record["result"],
        "harp": record["harp"]["name"],
        "book": record["book"],
    }
