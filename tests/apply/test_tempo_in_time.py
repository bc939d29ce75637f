"""Tempo marks between notes whose lengths change: they are heard when they were."""

from edit_pages import Page, attributes, back, lasting, note, page
from schema import schema_faults

from arrange.edits import NoteValue, SetDuration
from arrange.units import Quarters


def test_a_tempo_between_notes_keeps_its_time_when_lengths_change() -> None:
    """As it is heard, not only as it is printed; also where its print was moved before."""
    for offset in ("", "<offset>2</offset>", '<offset sound="yes">1</offset>'):
        kind = "<direction-type><words>calmly</words></direction-type>"
        mark = f'      <direction>{kind}{offset}<staff>1</staff><sound tempo="40"/></direction>\n'
        begin = attributes() + '      <sound tempo="60"/>\n'
        upper = note("E4", 4) + mark + note("r", 4) + note("r", 8)
        page_ = Page(page(begin + upper + back(16) + note("C3", 16, voice=5)))
        before = page_.reading.score().tempo
        one = page_.at("E4")
        longer = SetDuration(one.id, NoteValue.of(one), lasting(one, Quarters(3)))
        assert page_.apply(longer) == "APPLIED"
        fresh = Page(page_.document.to_bytes()).reading.score()
        assert fresh.tempo == before
        assert before[-1].offset == (Quarters(5, 4) if "yes" in offset else Quarters(1))
        assert schema_faults(page_.document.to_bytes()) == []
