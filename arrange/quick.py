"""Frozen dataclasses that are made by the ten thousand, made faster."""

from dataclasses import MISSING, fields, is_dataclass
from typing import Any, TypeVar

_Made = TypeVar("_Made")


def quickly_made(cls: type[_Made]) -> type[_Made]:
    """Let a frozen slotted dataclass fill its fields the way one does that is not frozen.

    A frozen dataclass sets each field by a call; a note has fifteen. Here the new object is of a
    twin class while its fields are filled, whose slots lie alike and which is not frozen. When it
    is handed out it is what it always was: frozen, with the same arguments, equality, hash and
    `repr`. The class may not be derived from.

    Raises:
        TypeError: it is no frozen slotted dataclass, or makes its fields in another way.
    """
    if not is_dataclass(cls) or "__slots__" not in vars(cls) or hasattr(cls, "__post_init__"):
        raise TypeError(f"{cls.__name__} is no plain slotted dataclass")
    names = [field.name for field in fields(cls)]
    known: dict[str, Any] = {"final": cls, "twin": type(cls.__name__, (), {"__slots__": names})}
    arguments = []
    for field in fields(cls):
        if field.default_factory is not MISSING or not field.init or field.kw_only:
            raise TypeError(f"{cls.__name__}.{field.name} is no plain field")
        if field.default is MISSING:
            arguments.append(field.name)
        else:
            known[f"default_{field.name}"] = field.default
            arguments.append(f"{field.name}=default_{field.name}")
    lines = [
        f"def __init__(self, {', '.join(arguments)}):",
        " become(self, '__class__', twin)",
        *(f" self.{name} = {name}" for name in names),
        " self.__class__ = final",
    ]
    known["become"] = object.__setattr__
    exec("\n".join(lines), known)  # noqa: S102 - only names of fields go in, as in `dataclass`
    made = known["__init__"]
    made.__qualname__ = f"{cls.__qualname__}.__init__"
    made.__annotations__ = cls.__init__.__annotations__
    cls.__init__ = made  # type: ignore[method-assign]
    cls.__init_subclass__ = classmethod(_refuse_heir)  # type: ignore[assignment, arg-type] # any class
    return cls


def _refuse_heir(cls: type, **_: object) -> None:
    raise TypeError(f"{cls.__name__} is derived from a class that is quickly made")
