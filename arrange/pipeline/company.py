"""One key for several versions of a piece: other harps, other levels, played together."""

from collections.abc import Sequence

from arrange.pipeline.conversion import Settings
from arrange.pipeline.key_choice import others_beside
from arrange.pipeline.lightening import lightened
from arrange.score.container import Source
from arrange.score.document import Document
from arrange.score.reading import Reading
from arrange.study.keys import FREE_CHOICE, KeyScale


def shared_keys(source: Source, versions: Sequence[Settings]) -> tuple[str, ...]:
    """The key for each version, as `Settings.key` takes it: one transposition for all.

    It is the one that costs least on all of them together, up to four semitones away; how it is
    spelled may differ from harp to harp. A key that was asked for, or that other parts bind,
    stays as it was asked.

    Raises:
        BadInput: the source cannot be read, or has no harp.
    """
    asked = versions[0]
    document = Document.read(source.score_bytes, source.name)
    reading = Reading(document, parts=asked.parts, tempo=asked.tempo, melody=asked.melody)
    is_bound = bool(others_beside(reading.score())) and not asked.transpose_all
    if asked.key != "auto" or is_bound:
        return tuple(version.key for version in versions)
    rows = []
    for version in versions:
        scale = KeyScale(lightened(document, reading, version), version.terms, version.limit)
        free = [i for i in scale.intervals() if abs(i.semitones) <= FREE_CHOICE]
        rows.append({w.interval.semitones: w for w in scale.weigh(free, all_exact=True)})
    best = min(rows[0], key=lambda n: (sum(row[n].cost for row in rows), abs(n), n))
    return tuple(str(row[best].interval) for row in rows)
