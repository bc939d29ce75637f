"""The errors that a user of the toolkit may meet; each names the place and what to do."""


class LeverwrightError(Exception):
    """Anything that the toolkit raises on purpose."""


class BadInput(LeverwrightError):  # noqa: N818 - it names what is wrong, the input
    """A file or setting that cannot be used.

    The text is one line: file, part and measure where they are known, then what is wrong
    and what to do about it.
    """

    def __init__(self, message: str, *, file: str = "", part: str = "", measure: str = "") -> None:
        self.message = message
        self.file = file
        self.part = part
        self.measure = measure
        place = [file] if file else []
        if part:
            place.append(f"part {part}")
        if measure:
            place.append(f"measure {measure}")
        super().__init__(f"{', '.join(place)}: {message}" if place else message)


class Fault(LeverwrightError):  # noqa: N818 - it is ours, not the user's
    """A fault of the program itself: a state that must not occur."""
