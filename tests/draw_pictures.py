"""``python tests/draw_pictures.py``: draws README's pictures, a demo score before and after."""

import argparse
from pathlib import Path

import verovio

from arrange.cli.asking import harp_and_book
from arrange.cli.options import DEFAULT_HARP
from arrange.pipeline import Settings, convert
from arrange.score.container import read_source
from arrange.score.packing import unpacked

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "corpus" / "pictures"
LOOK = {
    "adjustPageHeight": True,
    "adjustPageWidth": True,
    "breaks": "none",
    "footer": "none",
    "header": "none",
    "scale": 40,
    "svgViewBox": True,
    "xmlIdSeed": 1,
}
WHITE = '<rect width="100%" height="100%" fill="white"/>'


def drawn(score_bytes: bytes, measures: str) -> str:
    """The measures (``1-4``) of a score as an SVG picture on white paper."""
    toolkit = verovio.toolkit()
    toolkit.setOptions(LOOK)
    toolkit.loadData(score_bytes.decode())
    toolkit.select({"measureRange": measures})
    toolkit.redoLayout()
    picture = str(toolkit.renderToSVG(1))
    head, mark, rest = picture.partition(">\n")
    return f"{head}{mark}{WHITE}\n{rest}"


def draw(name: str, measures: str) -> None:
    """Draw the score called *name* before and after."""
    source = read_source(ROOT / "corpus" / name)
    harp_file, book = harp_and_book(DEFAULT_HARP)
    result = convert(unpacked(source), Settings(harp_file.harp, book)).result
    PICTURES.mkdir(exist_ok=True)
    for title, score_bytes in (("before", source.score_bytes), ("after", result)):
        (PICTURES / f"{title}.svg").write_text(drawn(score_bytes, measures), "utf-8")


if __name__ == "__main__":
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("name", nargs="?", default="nocturne-d-flat.musicxml")
    words.add_argument("measures", nargs="?", default="1-5")
    asked = words.parse_args()
    draw(asked.name, asked.measures)
