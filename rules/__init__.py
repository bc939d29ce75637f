"""The rules that ship, one a module; ``ORDER`` is their table of contents."""

from arrange.rule import Rule
from rules.clear_former_cues import ClearFormerCues
from rules.fold_into_compass import FoldIntoCompass
from rules.free_left_hand import FreeLeftHand
from rules.mark_open_points import MarkOpenPoints
from rules.merge_homophones import MergeHomophones
from rules.remove_octave_lines import RemoveOctaveLines
from rules.remove_pedal_marks import RemovePedalMarks
from rules.remove_piano_marks import RemovePianoMarks
from rules.resolve_glissandi import ResolveGlissandi
from rules.restate_levers import RestateLevers
from rules.set_levers import SetLevers
from rules.share_wide_grips import ShareWideGrips
from rules.write_lever_cues import WriteLeverCues
from rules.write_opening import WriteOpening

ORDER: tuple[type[Rule], ...] = (
    ClearFormerCues,
    RemovePedalMarks,
    RemovePianoMarks,
    FoldIntoCompass,
    ShareWideGrips,
    MergeHomophones,
    ResolveGlissandi,
    FreeLeftHand,
    SetLevers,
    RemoveOctaveLines,
    MarkOpenPoints,
    WriteLeverCues,
    RestateLevers,
    WriteOpening,
)
"""What was for other instruments goes; then compass, hands, strings, levers, words."""

__all__ = ["ORDER"]
