"""Pedal marks written as words: what they set, in the usual forms and languages.

The forms (common practice): a row ``D C B | E F G A`` with signs, a row for each foot, single
names (``F#``, ``Si b``, ``Fa dièse``, ``Fis``), a name and what it becomes (``F to F#``), with or
without a word before them (``préparez``, ``Ped.``). A name without a sign is a natural.
"""

import re
import unicodedata
from dataclasses import dataclass, field

PEDAL_ORDER = "DCBEFGA"
"""The pedals from left to right; the left foot has the first three."""
LEFT_FOOT = frozenset("DCB")
RIGHT_FOOT = frozenset("EFGA")
ALL_PEDALS = frozenset(PEDAL_ORDER)


def word_set(words: str) -> frozenset[str]:
    """Return the single words of *words*."""
    return frozenset(words.split())


_SIGNS = {"#": 1, "♯": 1, "♭": -1, "♮": 0}
_MUSIC_FONT = str.maketrans(
    {"\ue260": "♭", "\ue261": "♮", "\ue262": "♯", "\N{NO-BREAK SPACE}": " "}
)
_WORD_SIGNS = {
    **dict.fromkeys(word_set("sharp sharps sh diese dieses diesis kreuz sostenido sustenido"), 1),
    **dict.fromkeys(word_set("flat flats fl bemol bemols bemolle be bem b"), -1),
    **dict.fromkeys(word_set("natural naturals nat becarre becarres bequadro becuadro"), 0),
    **dict.fromkeys(word_set("naturel naturale auflosung auflosungszeichen aufloser n"), 0),
}
_SOLFEGE = {
    "do": "C",
    "ut": "C",
    "re": "D",
    "mi": "E",
    "fa": "F",
    "sol": "G",
    "la": "A",
    "si": "B",
}
_GERMAN = {
    **{letter + "is": (letter.upper(), 1) for letter in "cdefga"},
    **{letter + "es": (letter.upper(), -1) for letter in "cdfg"},
    "his": ("B", 1),
    "es": ("E", -1),
    "as": ("A", -1),
    "bes": ("B", -1),
    "h": ("B", 0),
}
_ONLY_CAPITAL = frozenset({"es", "as", "des", "dis", "his", "h", "ces", "ges", "fes", "bes"})
"""German names that are words of other languages where they are written small."""
_PREFIXES = word_set(
    "pedal pedals pedale pedales pedali pedalen ped set change changez changer changes mettez "
    "mettre cambia cambiare muta mutano vorbereiten prep harp harps harpe harpes arpa arpe harfe "
    "hp arp"
)
_FILLERS = word_set("then puis poi dann left right foot feet pied gauche droit on the")
_JOINS = frozenset({"and", "et", "und", "y", "e"})
_TOWARDS = frozenset({"to", "→", "->", "=>", ">"})
GLISSANDO = re.compile(r"glis(?:s\w*)?", re.IGNORECASE)
_SEPARATORS = "|/,;:()[]{}.&•·-\N{EN DASH}\N{EM DASH} \n\r\t"
_PIECE = re.compile(r"->|=>|[→>]|[^\W\d_]+|.", re.DOTALL)
_LETTERS = re.compile(r"(?:[A-G][bn]?)+")
_LETTER = re.compile(r"([A-G])([bn])?")
_SINGLE = re.compile(r"([A-G])\s*([bn#♯♭♮])?")
_SMALL_NAME = re.compile(r"([a-g])([bn#♯♭♮])?")
_SLASH_CHORD = re.compile(r"[A-G][#♯♭♮b]?/[A-G][#♯♭♮b]?")


@dataclass(frozen=True, slots=True)
class PedalWords:
    """What a text says about the pedals.

    Attributes:
        pedals: letter and alteration, in the order of the text.
        is_plain: single letters and signs only, which a chord symbol has too.
        has_prefix: a word such as ``préparez`` or ``Ped.`` stands before them.
        signed: how many of the names carry a sign.
    """

    pedals: tuple[tuple[str, int], ...]
    is_plain: bool
    has_prefix: bool
    signed: int

    @property
    def letters(self) -> frozenset[str]:
        """The pedals that it names."""
        return frozenset(letter for letter, _ in self.pedals)


@dataclass(slots=True)
class _Name:
    letter: str
    alter: int | None = None
    joined: bool = False
    replaces: bool = False


@dataclass(slots=True)
class _Scan:
    """The names found so far while a text is read from left to right."""

    names: list[_Name] = field(default_factory=list)
    prefix_sign: int | None = None
    joins: bool = False
    replaces: bool = False
    has_prefix: bool = False
    is_plain: bool = True
    is_german: bool = False
    is_run: bool = False

    def name(self, letter: str, alter: int | None = None) -> None:
        sign = alter if self.prefix_sign is None else self.prefix_sign
        self.names.append(_Name(letter, sign, self.joins, self.replaces))
        self.prefix_sign, self.joins, self.replaces = None, False, False

    def sign(self, alter: int) -> bool:
        """Give the last name its sign, and the names joined to it that have none."""
        if not self.names or self.names[-1].alter is not None:
            return False
        for name in reversed(self.names):
            if name.alter is not None:
                break
            name.alter = alter
            if not name.joined:
                break
        return True


def without_accents(text: str) -> str:
    """Return *text* with é as e, signs of the music font as signs, spaces as spaces."""
    plain = unicodedata.normalize("NFKD", text.translate(_MUSIC_FONT))
    return "".join(c for c in plain if not unicodedata.combining(c))


def read_pedal_words(text: str) -> PedalWords | None:
    """Return what *text* sets; None where it cannot be a pedal mark."""
    clean = without_accents(text).strip()
    if not clean or clean.endswith("-") or _is_slash_chord(clean):
        return None
    scan = _small_row(clean) or _scanned(clean)
    return None if scan is None else _judged(scan)


def pedals_in(text: str) -> tuple[tuple[str, int], ...] | None:
    """Return the pedals that *text* sets, letter and alteration; None where it sets none."""
    words = read_pedal_words(text)
    return None if words is None else words.pedals


def single_name(text: str) -> tuple[str, int] | None:
    """Return the letter and alteration where *text* is one letter, with or without a sign."""
    match = _SINGLE.fullmatch(without_accents(text).strip())
    if match is None:
        return None
    return match[1], 0 if match[2] is None else _sign_of(match[2])


def _is_slash_chord(clean: str) -> bool:
    """``D/F#``: a chord over a bass note; two feet would both have signs."""
    return bool(_SLASH_CHORD.fullmatch(clean)) and not all(len(n) > 1 for n in clean.split("/"))


def _small_row(clean: str) -> _Scan | None:
    """A full row in small letters: ``d c# bb | e f g ab``."""
    words = [word for word in re.split(r"[\s|/,;]+", clean) if word]
    found = [_SMALL_NAME.fullmatch(word) for word in words]
    names = [match for match in found if match is not None]
    if len(names) != len(words) or {match[1].upper() for match in names} != ALL_PEDALS:
        return None
    scan = _Scan()
    for match in names:
        scan.name(match[1].upper(), None if match[2] is None else _sign_of(match[2]))
    return scan


def _sign_of(sign: str) -> int:
    return _SIGNS[sign] if sign in _SIGNS else _WORD_SIGNS[sign]


def _scanned(clean: str) -> _Scan | None:
    """Read piece by piece; None at the first that no pedal mark has."""
    scan = _Scan()
    for match in _PIECE.finditer(clean):
        piece = match[0]
        if piece in _SIGNS:
            is_read = _take_sign(scan, clean, match.start())
        elif piece in _TOWARDS or piece[0].isalpha():
            is_read = _take_word(scan, piece)
        else:
            is_read = piece in _SEPARATORS
        if not is_read:
            return None
    return scan


def _take_sign(scan: _Scan, clean: str, at: int) -> bool:
    """A sign belongs to the name before it; to the one behind where it only touches that."""
    before, behind = clean[at - 1 : at], clean[at + 1 : at + 2]
    sign = _SIGNS[clean[at]]
    if "A" <= behind <= "G" and not before.isalpha():
        scan.prefix_sign = sign
        return True
    return scan.sign(sign)


def _take_word(scan: _Scan, word: str) -> bool:
    small = word.casefold()
    if small in _TOWARDS:
        scan.replaces = True
    elif small in _JOINS and (small == word or len(word) > 1):
        scan.joins = bool(scan.names)
    elif small in _PREFIXES or small.startswith("prepar") or GLISSANDO.fullmatch(small):
        scan.has_prefix = True
    elif small in _FILLERS:
        return True
    else:
        return _take_name(scan, word, small)
    return True


def _take_name(scan: _Scan, word: str, small: str) -> bool:
    if small in _WORD_SIGNS and (word == small or len(word) > 1) and scan.sign(_WORD_SIGNS[small]):
        scan.is_plain = scan.is_plain and len(word) == 1
        return True
    if _LETTERS.fullmatch(word):
        for letter, sign in _LETTER.findall(word):
            scan.name(letter, _WORD_SIGNS[sign] if sign else None)
        scan.is_run = scan.is_run or len(_LETTER.findall(word)) > 1
        return True
    scan.is_plain = False
    return _take_solfege(scan, small) or _take_german(scan, word, small)


def _take_solfege(scan: _Scan, small: str) -> bool:
    if small in _SOLFEGE:
        scan.name(_SOLFEGE[small])
        return True
    if small.endswith("b") and small[:-1] in _SOLFEGE:
        scan.name(_SOLFEGE[small[:-1]], -1)
        return True
    return False


def _take_german(scan: _Scan, word: str, small: str) -> bool:
    if small not in _GERMAN or (small in _ONLY_CAPITAL and not word[0].isupper()):
        return False
    scan.is_german = True
    scan.name(*_GERMAN[small])
    return True


def _judged(scan: _Scan) -> PedalWords | None:
    """Whether the names can be a pedal mark together, and what they set."""
    setting: dict[str, int] = {}
    for name in scan.names:
        alter = _alteration(scan, name)
        if setting.get(name.letter, alter) != alter and not name.replaces:
            return None
        setting.pop(name.letter, None)
        setting[name.letter] = alter
    letters = frozenset(setting)
    is_row = letters in (ALL_PEDALS, LEFT_FOOT, RIGHT_FOOT) and len(scan.names) == len(letters)
    signed = sum(1 for name in scan.names if name.alter is not None)
    if not setting or scan.prefix_sign is not None:
        return None
    if not is_row and (scan.is_run or not signed):
        return None
    return PedalWords(tuple(setting.items()), scan.is_plain, scan.has_prefix, signed)


def _alteration(scan: _Scan, name: _Name) -> int:
    """A bare name is a natural; B among German names is B flat."""
    if name.alter is None and scan.is_german and name.letter == "B":
        name.alter = -1
    return name.alter or 0
