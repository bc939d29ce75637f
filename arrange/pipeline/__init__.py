"""The way of a conversion: read, choose the key, transpose, rules in order, write, look back."""

from arrange.pipeline.company import shared_keys
from arrange.pipeline.conversion import Conversion, Settings
from arrange.pipeline.editing import convert_edited, own_field
from arrange.pipeline.work import Progress, convert, silent

__all__ = [
    "Conversion",
    "Progress",
    "Settings",
    "convert",
    "convert_edited",
    "own_field",
    "shared_keys",
    "silent",
]
