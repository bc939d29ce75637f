"""What the summary says of levers: the setting, the moves, the glissandi, the proof."""

from collections.abc import Iterator
from typing import Any

from arrange.check import Instruction, spare_times
from arrange.harp.harp import Harp
from arrange.pipeline import Conversion
from arrange.pitch import LETTERS, pitch_on_line
from arrange.score.model import Note, Score
from arrange.score.own import OwnCue
from arrange.study.glissandi import StandingSweep, standing_sweeps
from arrange.units import Microseconds, quarters_text, seconds

Record = dict[str, Any]
"""A JSON object."""


def lever_record(conversion: Conversion) -> Record:
    """Setting, moves and proof of all harps of a result."""
    score, instructions = conversion.score, conversion.instructions
    settings = conversion.settings
    spare = spare_times(score, settings.harp, settings.book.player, instructions)
    printed = _cue_places(score)
    is_one = len(score.harps) == 1
    moves = sorted(
        (move for harp in instructions.harps for move in harp.moves),
        key=lambda m: (m.index, m.offset, m.part, m.string),
    )
    return {
        "initial": [
            {
                **({} if is_one else {"part": staves[0].part}),
                "string": string,
                "position": position.value,
            }
            for staves, harp in zip(score.harps, instructions.harps, strict=True)
            for string, position in harp.initial.items()
        ],
        "moves": [_move(score, move, spare.get(move, 0), printed.get(move)) for move in moves],
        "proof": _proof(conversion),
    }


def _cue_places(score: Score) -> dict[Instruction, Record]:
    """Where each move's direction is printed."""
    found = {}
    for part in score.harp_parts:
        for measure in score.by_part[part].measures:
            for mark in measure.marks:
                cue = OwnCue.parse(mark.own) if mark.own else None
                if cue is not None:
                    index = measure.index + cue.measures_on
                    move = Instruction(
                        part, cue.string, cue.position, index, cue.offset, cue.hand, cue.passes
                    )
                    found[move] = {
                        "index": measure.index,
                        "measure": measure.number,
                        "offset": quarters_text(mark.offset),
                    }
    return found


def _move(score: Score, move: Instruction, spare: Microseconds, cue: Record | None) -> Record:
    return {
        "part": move.part,
        "string": move.string,
        "position": move.position.value,
        "index": move.index,
        "measure": score.measure(move.part, move.index).number,
        "offset": quarters_text(move.offset),
        "hand": move.hand.value,
        "slack_s": round(float(seconds(spare)), 3),
        "passes": list(move.passes) or None,
        "cue": cue,
    }


def _proof(conversion: Conversion) -> Record:
    """How the planner's cost stands to its proven bound, over all harps."""
    plans = conversion.plans
    if not plans:
        return {"optimal": False, "bound": 0, "gap": 0}
    cost, bound = sum(p.cost for p in plans), sum(p.bound for p in plans)
    return {"optimal": cost == bound, "bound": bound, "gap": cost - bound}


def glissando_records(score: Score, harp: Harp) -> Iterator[Record]:
    """Yield the glissandi of a score as they stand, those left open aside."""
    for staves in score.harps:
        for sweep in standing_sweeps(score, harp, staves):
            yield _glissando(score, harp, sweep)


def _glissando(score: Score, harp: Harp, standing: StandingSweep) -> Record:
    sweep = standing.sweep
    start = score.notes_by_id[sweep.start]
    end = start if sweep.end is None else score.notes_by_id[sweep.end]
    return {
        "part": start.id.part,
        "index": start.id.index,
        "measure": score.measure(start.id.part, start.id.index).number,
        "offset": quarters_text(start.offset),
        "until": {
            "index": sweep.until_index,
            "offset": quarters_text(sweep.until_offset),
        },
        "from": f"{start.pitch.step}{start.pitch.octave}",
        "to": f"{end.pitch.step}{end.pitch.octave}",
        "hand": standing.hand.value,
        "strings_per_s": round(float(standing.strings_per_s), 3),
        "foreign": _foreign(harp, standing, (start, end)),
        "held": [harp.strings[place].name for place in standing.held],
        "tones": [pitch_on_line(LETTERS.index(n), a).name for n, a in sweep.tones],
    }


def _foreign(harp: Harp, standing: StandingSweep, ends: tuple[Note, Note]) -> list[str]:
    """The strings that sound beside the tones; first and last sound what their notes say."""
    tones = dict(standing.sweep.tones)
    names = [harp.strings[place].name for place in standing.foreign]
    for note in ends:
        name = f"{note.pitch.step}{note.pitch.octave}"
        if tones.get(note.pitch.step) != note.pitch.alter and name not in names:
            names.append(name)
    return names
