"""The rules that ship, one a module; ``ORDER`` is their table of contents."""

from arrange.rule import Rule
from rules.clear_former_cues import ClearFormerCues
from rules.close_up_leaps import CloseUpLeaps
from rules.fold_into_compass import FoldIntoCompass
from rules.free_left_hand import FreeLeftHand
from rules.leave_out_ornaments import LeaveOutOrnaments
from rules.mark_open_points import MarkOpenPoints
from rules.merge_homophones import MergeHomophones
from rules.play_harmonics_plainly import PlayHarmonicsPlainly
from rules.remove_idle_signs import RemoveIdleSigns
from rules.remove_octave_lines import RemoveOctaveLines
from rules.remove_pedal_marks import RemovePedalMarks
from rules.remove_piano_marks import RemovePianoMarks
from rules.resolve_glissandi import ResolveGlissandi
from rules.restate_levers import RestateLevers
from rules.say_the_working_tempo import SayTheWorkingTempo
from rules.set_levers import SetLevers
from rules.share_wide_grips import ShareWideGrips
from rules.slow_the_accompaniment import SlowTheAccompaniment
from rules.spare_lever_moves import SpareLeverMoves
from rules.sweep_in_the_key import SweepInTheKey
from rules.thin_full_chords import ThinFullChords
from rules.write_fingering import WriteFingering
from rules.write_lever_cues import WriteLeverCues
from rules.write_opening import WriteOpening

ORDER: tuple[type[Rule], ...] = (
    ClearFormerCues,
    RemovePedalMarks,
    RemovePianoMarks,
    LeaveOutOrnaments,
    PlayHarmonicsPlainly,
    ThinFullChords,
    SlowTheAccompaniment,
    FoldIntoCompass,
    CloseUpLeaps,
    ShareWideGrips,
    MergeHomophones,
    SweepInTheKey,
    ResolveGlissandi,
    SpareLeverMoves,
    FreeLeftHand,
    SetLevers,
    RemoveOctaveLines,
    MarkOpenPoints,
    RemoveIdleSigns,
    WriteLeverCues,
    RestateLevers,
    SayTheWorkingTempo,
    WriteOpening,
    WriteFingering,
)
"""What was for other instruments goes; then compass, hands, strings, levers, words."""

__all__ = ["ORDER"]
