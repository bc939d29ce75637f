"""A lesson from a score: how to set the harp, what the piece is made of, how to practise it."""

from arrange.teach.lesson import Lesson, lesson
from arrange.teach.page import PageSettings, lesson_page
from arrange.teach.sound import practice_files

__all__ = ["Lesson", "PageSettings", "lesson", "lesson_page", "practice_files"]
