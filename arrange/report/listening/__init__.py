"""What a page needs to play a score: when which string sounds, and the player that sounds it."""

from arrange.report.listening.script import listening_script
from arrange.report.listening.timeline import note_id, timeline

__all__ = ["listening_script", "note_id", "timeline"]
