"""Reading under fire: a coverage-guided run of container, document and reading.

``python tests/fuzz/reading.py FOLDER [--minutes 30]`` keeps what it finds worth keeping in FOLDER
and goes on from there another time; it needs atheris (``pip install 'leverwright[fuzz]'``).

Of whatever is read, only `BadInput` may come; nothing may take longer than five seconds; and what
was read comes back to the byte, also when every element is written anew, and through a change and
its taking back; the tree is what expat sees. Each kind of fault is kept once, in FOLDER/faults.
"""

import argparse
import hashlib
import sys
import time
import traceback
import zlib
from collections import Counter
from contextlib import suppress
from dataclasses import fields
from pathlib import Path
from xml.parsers import expat

import atheris

with atheris.instrument_imports(include=["arrange.score", "arrange.pitch", "arrange.units"]):
    from arrange.errors import BadInput
    from arrange.score.container import Source, read_source_bytes, write_result
    from arrange.score.document import Document
    from arrange.score.emission import AtFirst
    from arrange.score.nodes import Node
    from arrange.score.reading import Reading

import seeds
from mutating import ZIP_BEGINNING, Dice, crossed, repacked, spoiled, unpacked
from nasty import NASTY, SNIPPETS

MOST_SECONDS = 5
LONGEST = 12_000
_CODECS = ("utf-16", "utf-16-le", "latin-1", "utf-8-sig", "shift_jis", "utf-7", "cp037")
_LINE_ENDS = ("\r\n", "\r")


class Strange(Exception):  # noqa: N818 - it says what is wrong
    """Something that must hold does not hold."""


def must_hold(holds: bool, what: str) -> None:  # noqa: FBT001 - a claim
    """Raise what does not hold."""
    if not holds:
        raise Strange(what)


def read(raw: bytes) -> None:
    """Read a file, write it again, and do one thing more with it, which its bytes choose."""
    source = read_source_bytes(raw, "x.mxl" if raw[:2] == b"PK" else "x.musicxml")
    document = Document.read(source.score_bytes, source.name)
    must_hold(write_result(source, document.to_bytes()) == raw, "comes back to the byte")
    chosen = zlib.crc32(raw) % 16
    try:
        Reading(document, parts=() if chosen < 8 else None).score()
    finally:
        must_hold(document.to_bytes() == source.score_bytes, "reading changes nothing")
        if chosen % 4 == 0:
            compare_trees(document, source.score_bytes)
            write_anew(document, source.score_bytes)
    if chosen % 4 == 1:
        change(source)


def compare_trees(document: Document, raw: bytes) -> None:
    """The tree has the elements, attributes and words that expat has."""
    if document.encoding not in ("utf-8", "ascii"):
        return
    seen: list[tuple[str, dict[str, str]]] = []
    words: list[list[str]] = []
    inner: list[list[str]] = []

    def begin(tag: str, attributes: dict[str, str]) -> None:
        seen.append((tag, attributes))
        words.append([])
        inner.append(words[-1])

    parser = expat.ParserCreate("utf-8")
    parser.buffer_text = True
    parser.StartElementHandler = begin
    parser.EndElementHandler = lambda _tag: inner.pop()

    def say(text: str) -> None:
        inner[-1].append(text)

    parser.CharacterDataHandler = say
    parser.Parse(raw.decode(document.encoding).removeprefix("\ufeff").encode(), True)  # noqa: FBT003
    ours = list(document.root.iter())
    must_hold([(n.tag, dict(n.attrs)) for n in ours] == seen, "the tree is what expat sees")
    texts = [n.text for n in ours if not n.children]
    theirs = ["".join(w) for n, w in zip(ours, words, strict=True) if not n.children]
    must_hold(texts == theirs, "the words are what expat sees")


def write_anew(document: Document, raw: bytes) -> None:
    """What is written when no element may be copied whole is the source again."""
    document._at_first.update((node, AtFirst.of(node)) for node in document.root.iter())
    document._journal.append((document.root, "", lambda: None))
    with suppress(BadInput):
        must_hold(document.to_bytes() == raw, "written anew it is the same")


def change(source: Source) -> None:
    """A change can be written, read again, and taken back."""
    document = Document.read(source.score_bytes, source.name)
    nodes = list(document.root.iter())
    node = nodes[len(nodes) // 2]
    reading = Reading(document, parts=None)
    reading.score()
    mark = document.mark()
    try:
        if node.children or node.parent is None:
            document.set_attribute(node, "id", "a<&\"'b")
        elif len(nodes) % 2 and len(node.parent.children) > 1:
            document.remove(node)
        else:
            document.set_text(node, "a<&b")
    except BadInput:
        return
    written = document.to_bytes()
    again = Document.read(written, source.name)
    must_hold(shape(document.root) == shape(again.root), "a change is read as it was made")
    if source.archive is not None:
        with suppress(BadInput):
            packed = write_result(source, written)
            must_hold(
                read_source_bytes(packed, "x.mxl").score_bytes == written,
                "another score is found in the archive",
            )
    must_hold(same_score(reading, document), "only what changed is read again")
    document.rollback(mark)
    must_hold(document.to_bytes() == source.score_bytes, "a change can be taken back")
    must_hold(same_score(reading, document), "what was taken back is read again")


def same_score(reading: Reading, document: Document) -> bool:
    """Whether a reading that is kept up to date sees what a new one sees."""
    try:
        fresh = Reading(document, parts=None).score()
    except BadInput as refusal:
        try:
            reading.score()
        except BadInput as other:
            return str(refusal) == str(other)
        return False
    kept = reading.score()
    return all(getattr(kept, f.name) == getattr(fresh, f.name) for f in fields(fresh))


def shape(root: Node) -> list[tuple[str, dict[str, str], str]]:
    """Tags, attributes and words of a tree; white space alone is none."""
    return [
        (n.tag, dict(n.attrs), n.text if not n.children and n.text.strip() else "")
        for n in root.iter()
    ]


class Run:
    """One run: what was read, and which faults were found."""

    def __init__(self, folder: Path) -> None:
        self.faults = folder / "faults"
        self.faults.mkdir(parents=True, exist_ok=True)
        self.begin = time.monotonic()
        self.outcomes: Counter[str] = Counter()

    def one(self, raw: bytes) -> None:
        """Read one file; keep it when it does what none may do."""
        begin = time.process_time()
        try:
            read(raw)
            outcome = "read"
        except BadInput as refusal:
            outcome = "refused"
            if "\n" in str(refusal) or not refusal.file:
                self._keep(raw, "a sentence of several lines, or one that names no file")
        except (Exception, RecursionError) as fault:  # noqa: BLE001 - every fault is wanted
            outcome = "fault"
            self._keep(raw, _kind(fault), "".join(traceback.format_exception(fault)))
        if time.process_time() - begin > MOST_SECONDS:
            self._keep(raw, "took long")
        self.outcomes[outcome] += 1
        if self.outcomes.total() % 2_000 == 0:
            seconds = time.monotonic() - self.begin
            sys.stderr.write(f"{seconds / 60:.1f} minutes: {dict(self.outcomes)}\n")

    def _keep(self, raw: bytes, kind: str, report: str = "") -> None:
        name = hashlib.sha256(kind.encode()).hexdigest()[:12]
        path = self.faults / f"{name}.xml"
        if not path.exists() or path.stat().st_size > len(raw):
            path.write_bytes(raw)
            path.with_suffix(".txt").write_text(f"{kind}\n{report}", "utf-8", "replace")


def _kind(fault: BaseException) -> str:
    """What fault it is, and where it came up; the same fault is met once."""
    frames = [f for f in traceback.extract_tb(fault.__traceback__) if "arrange" in f.filename]
    place = f"{frames[-1].filename}:{frames[-1].lineno}" if frames else "no frame of ours"
    said = str(fault) if isinstance(fault, Strange) else ""
    return f"{type(fault).__name__} {said} {place}"


def mutated(raw: bytes, longest: int, seed: int) -> bytes:
    """A file made into another one: as a score, as an archive, or as bytes."""
    dice = Dice(seed)
    if raw[:4] == ZIP_BEGINNING:
        found = unpacked(raw)
        if found is None or dice.throw(2):
            return bytes(atheris.Mutate(raw, longest))
        return repacked(found[0], mutated(found[1], longest, seed + 1), dice)[:longest]
    kind = dice.throw(12)
    if kind == 0 or not raw:
        return bytes(atheris.Mutate(raw, longest))
    text = seeds.text_of(raw)
    if kind == 1:
        text = text.replace("\n", dice.one_of(_LINE_ENDS))
        return text.encode(dice.one_of(_CODECS), "replace")[:longest]
    text = spoiled(text, dice, 1 + dice.throw(4))
    new = text.encode("utf-8", "surrogateescape")
    return new if len(new) <= longest else raw


def bred(raw: bytes, other: bytes, longest: int, seed: int) -> bytes:
    """A file with an element of another one."""
    if ZIP_BEGINNING in (raw[:4], other[:4]):
        return raw
    text, source = seeds.text_of(raw), seeds.text_of(other)
    new = crossed(text, source, Dice(seed)).encode("utf-8", "surrogateescape")
    return new if len(new) <= longest else raw


def write_seeds(folder: Path) -> None:
    """Put the seeds where the run looks for them."""
    folder.mkdir(parents=True, exist_ok=True)
    for number, raw in enumerate(seeds.small(LONGEST)):
        (folder / f"seed-{number:03}").write_bytes(raw)
        if raw[:4] != ZIP_BEGINNING and number % 8 == 0:
            (folder / f"seed-{number:03}-packed").write_bytes(repacked("a.xml", raw, Dice(number)))


def write_words(path: Path) -> None:
    """What the run may put anywhere, as libFuzzer wants it."""
    words = sorted({w for w in (*NASTY, *SNIPPETS) if w and len(w) < 100})
    lines = ["".join(f"\\x{byte:02x}" for byte in word.encode()) for word in words]
    path.write_text("".join(f'"{line}"\n' for line in lines), "ascii")


def main() -> None:
    """Run as long as the command line says."""
    words = argparse.ArgumentParser(description="Fuzz the reading of scores.")
    words.add_argument("folder", type=Path)
    words.add_argument("--minutes", type=int, default=30)
    words.add_argument("--memory", type=int, default=2_000, help="MB")
    asked = words.parse_args()
    folder = asked.folder
    run = Run(folder)
    write_seeds(folder / "seeds")
    (folder / "kept").mkdir(exist_ok=True)
    write_words(folder / "words.dict")
    options = [
        sys.argv[0],
        f"-max_total_time={asked.minutes * 60}",
        f"-rss_limit_mb={asked.memory}",
        f"-max_len={LONGEST}",
        f"-timeout={MOST_SECONDS * 12}",
        f"-artifact_prefix={folder}/faults/",
        f"-dict={folder / 'words.dict'}",
        "-mutate_depth=2",
        "-print_final_stats=1",
        str(folder / "kept"),
        str(folder / "seeds"),
    ]
    atheris.Setup(options, run.one, custom_mutator=mutated, custom_crossover=bred)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
