"""What each key would take, as a table to read and as a record for other programs."""

from collections.abc import Iterator, Mapping
from typing import Any

from arrange.fitting import Fit, HarpFit, SharedKey
from arrange.pitch import UNISON, Interval
from arrange.study.keys import KeyWeight

FORMAT = "leverwright-fit"
VERSION = 1
_HEAD = f"{'key':18}{'move it by':>12}{'levers':>8}{'altered':>9}{'open':>6}{'price':>9}"


def fit_record(fit: Fit, source: Mapping[str, str]) -> dict[str, Any]:
    """The fit as JSON content; costs in hundredths of a lever move.

    Args:
        fit: what came of weighing.
        source: the score's ``file`` and ``sha256``.
    """
    return {
        "format": FORMAT,
        "version": VERSION,
        "source": dict(source),
        "parts": list(fit.score.harp_parts),
        "others": list(fit.others),
        "harps": [_harp_record(harp) for harp in fit.harps],
        "shared": [_shared_record(key, fit) for key in fit.shared],
        "best": _shared_record(fit.shared[0], fit),
    }


def fit_text(fit: Fit) -> str:
    """The fit as tables, one a harp, and the key that serves all harps best."""
    return "\n".join(_lines(fit))


def _harp_record(harp: HarpFit) -> dict[str, Any]:
    return {
        "name": harp.terms.harp.name,
        "tuning": harp.terms.harp.tuning,
        "ranking": [weight_record(weight) for weight in harp.ranking],
    }


def weight_record(weight: KeyWeight) -> dict[str, Any]:
    """One key's weight, in the words of the summary file."""
    return {
        "semitones": weight.interval.semitones,
        "interval": str(weight.interval),
        "key": weight.name,
        "altered": weight.altered,
        "moves": weight.moves,
        "open": weight.open,
        "cost": weight.cost,
    }


def _shared_record(key: SharedKey, fit: Fit) -> dict[str, Any]:
    pairs = zip(fit.harps, key.weights, strict=True)
    return {
        "semitones": key.semitones,
        "cost": key.cost,
        "keys": [
            {"harp": harp.terms.harp.name, "interval": str(w.interval), "key": w.name}
            for harp, w in pairs
        ],
    }


def _lines(fit: Fit) -> Iterator[str]:
    for harp in fit.harps:
        strings = harp.terms.harp.strings
        yield (
            f"{harp.terms.harp.name}: {len(strings)} strings, {strings[0].name} to "
            f"{strings[-1].name}, {harp.terms.harp.tuning} tuning"
        )
        yield _HEAD
        yield from map(_row, harp.ranking)
        yield ""
    yield "levers: moves while playing; altered: notes changed; price: in lever moves."
    if fit.others:
        yield f"Other parts would have to move too: {', '.join(fit.others)}."
    if len(fit.harps) > 1:
        yield from _shared_lines(fit)


def _row(weight: KeyWeight) -> str:
    return (
        f"{weight.name:18}{_distance(weight.interval):>12}{weight.moves:>8}"
        f"{weight.altered:>9}{weight.open:>6}{weight.cost / 100:>9.2f}"
    )


def _distance(interval: Interval) -> str:
    return "as it is" if interval == UNISON else str(interval)


def _shared_lines(fit: Fit) -> Iterator[str]:
    best = fit.shared[0]
    names = dict.fromkeys(weight.name for weight in best.weights)
    moved = " or ".join(dict.fromkeys(_distance(w.interval) for w in best.weights))
    yield f"Best for all of them: {' or '.join(names)} ({moved}), price {best.cost / 100:.2f}."
    for harp, weight in zip(fit.harps, best.weights, strict=True):
        yield (
            f"  on {harp.terms.harp.name}: {weight.moves} lever moves, "
            f"{weight.altered} notes changed, {weight.open} open"
        )
