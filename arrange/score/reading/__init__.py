"""Document to score: everything that knows how MusicXML says what a score says."""

from arrange.score.reading.reading import Reading

__all__ = ["Reading"]
