"""The scores that are measured: a public piece, one of our own grown to a size, a folder."""

import importlib.util
import re
import shutil
from collections.abc import Sequence
from pathlib import Path

from arrange.score.container import read_source
from arrange.score.encodings import decoded

CORPUS = Path(__file__).parents[2] / "corpus"
GROWN_FROM = CORPUS / "lullaby-windy-night.musicxml"
PUBLIC = (
    *("joplin/maple_leaf_rag", "bach/bwv846", "handel/rinaldo/Lascia_chio_pianga"),
    *("liliuokalani/aloha_oe", "mozart/k545/movement1_exposition", "schoenberg/opus19/movement2"),
    *("schoenberg/opus19/movement6", "schumann_robert/opus48no2", "verdi/laDonnaEMobile"),
)
"""Pieces with keyboard in music21's own corpus; the first has about 1,600 notes."""
_DECLARED = re.compile(r"""(\A<\?xml[^>]*?encoding=["'])[^"']*""")
_MEASURE = re.compile(r"<measure\s.*?</measure>", re.DOTALL)
_PART = re.compile(r"(<part\s[^>]*>)(.*?)(</part>)", re.DOTALL)
_ONCE = re.compile(r"""\sid="[^"]*"|<(barline|print|sound)\b(?:[^>]*/>|.*?</\1>)""", re.DOTALL)


def public_pieces(folder: Path) -> list[Path]:
    """Pieces of music21's corpus, the one of 1,600 notes first, as plain files."""
    library = importlib.util.find_spec("music21")
    if library is None or library.origin is None:
        return []
    paths = []
    for name in PUBLIC:
        source = read_source(Path(library.origin).parent / "corpus" / f"{name}.mxl")
        path = folder / f"{Path(name).name}.musicxml"
        path.write_bytes(source.score_bytes)
        paths.append(path)
    return paths


def grown(source: Path, folder: Path, notes: int) -> Path:
    """A score whose measures are repeated, or left out, until it has about so many notes."""
    text = decoded(source.read_bytes(), source.name).text
    text = _DECLARED.sub(r"\1UTF-8", text, count=1)
    part = _PART.search(text)
    if part is None:
        raise ValueError(f"{source} has no part")
    count = len(_MEASURE.findall(part[2]))
    wanted = max(round(notes * count / text.count("<pitch>")), 1)

    def longer(part: re.Match[str]) -> str:
        first = _MEASURE.findall(part[2])
        later = [_ONCE.sub("", measure) for measure in first]
        rows = (first[0] if not i else later[i % count] for i in range(wanted))
        measures = (
            re.sub(r'number="[^"]*"', f'number="{number}"', measure, count=1)
            for number, measure in enumerate(rows, 1)
        )
        return part[1] + "\n".join(measures) + part[3]

    path = folder / f"{source.stem}-{notes}.musicxml"
    path.write_text(_PART.sub(longer, text), encoding="utf-8")
    return path


def folder_of_scores(folder: Path, sources: Sequence[Path], files: int) -> Path:
    """A folder of so many scores: the sources as they are, then each a little shorter."""
    scores = folder / f"{sources[0].stem}-and-others"
    scores.mkdir()
    for number in range(files):
        source = sources[number % len(sources)]
        shorter = number // len(sources)
        if shorter:
            notes = decoded(source.read_bytes(), source.name).text.count("<pitch>")
            grown(source, scores, notes - notes * shorter // 20)
        else:
            shutil.copyfile(source, scores / source.name)
    return scores
