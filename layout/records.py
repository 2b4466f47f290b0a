"""The nouns as plain dicts of text, numbers and lists, ready for JSON, and back again.

A record names every field; nothing is left out, so that a record read in ten years
does not change its meaning with a default. Reading is strict: a field that is not
known, missing without a default, or of the wrong kind is refused with its place.
"""

from collections.abc import Sequence
from dataclasses import MISSING, Field, dataclass, fields, is_dataclass
from enum import Enum
from types import NoneType, UnionType
from typing import Any, TypeVar, Union, cast, get_args, get_origin, get_type_hints

from layout.allowances import Shop
from layout.errors import LayoutError
from layout.parts import Part
from layout.placement import Layout
from layout.stock import Board

__all__ = ["VERSION", "Plan", "from_record", "record"]

VERSION = 1

Noun = TypeVar("Noun")


@dataclass(frozen=True)
class Plan:
    """A layout with everything it was made from: enough to prove it, or to make it again."""

    boards: tuple[Board, ...]
    parts: tuple[Part, ...]
    shop: Shop
    layout: Layout
    version: int = VERSION

    def __post_init__(self) -> None:
        if self.version != VERSION:
            raise ValueError(f"version is {self.version}; this program reads version {VERSION}")


def record(noun: object) -> Any:
    """A noun as plain dicts, lists, texts and numbers.

    Parameters
    ----------
    noun : any noun of this package, or a sequence of them

    Raises
    ------
    TypeError
        Something that is no noun, enum, text, number, list or dict.
    """
    if noun is None or (isinstance(noun, (bool, int, float, str)) and not isinstance(noun, Enum)):
        return noun
    if isinstance(noun, Enum):
        return noun.value
    if is_dataclass(noun):
        return {item.name: record(getattr(noun, item.name)) for item in fields(noun)}
    if isinstance(noun, dict):
        return {record(key): record(value) for key, value in noun.items()}
    if isinstance(noun, Sequence):
        return [record(item) for item in noun]
    raise TypeError(f"{type(noun).__name__} is no noun of the layout; give a board, part, layout or the like")


def from_record(kind: type[Noun], plain: object, where: str = "") -> Noun:
    """The noun that a record describes.

    Parameters
    ----------
    kind : type
        Which noun, for example Board.
    plain : dict
    where : str
        Place of the record, for the message.

    Raises
    ------
    LayoutError
        The record does not describe such a noun; the message names the place.
    """
    return cast(Noun, _read(kind, plain, where or kind.__name__.lower()))


def _read(kind: Any, plain: Any, where: str) -> Any:
    origin = get_origin(kind)
    if origin in (Union, UnionType):
        return _read_optional(kind, plain, where)
    if origin is tuple:
        return _read_tuple(kind, plain, where)
    if origin is dict:
        key_kind, value_kind = get_args(kind)
        _want(isinstance(plain, dict), plain, "an object", where)
        return {_read(key_kind, k, where): _read(value_kind, v, f"{where}.{k}") for k, v in plain.items()}
    if is_dataclass(kind):
        return _read_noun(cast(type, kind), plain, where)
    if issubclass(kind, Enum):
        return _read_enum(kind, plain, where)
    return _read_simple(kind, plain, where)


def _read_optional(kind: Any, plain: Any, where: str) -> Any:
    (inner,) = (item for item in get_args(kind) if item is not NoneType)
    return None if plain is None else _read(inner, plain, where)


def _read_tuple(kind: Any, plain: Any, where: str) -> tuple[Any, ...]:
    _want(isinstance(plain, (list, tuple)), plain, "a list", where)
    kinds = get_args(kind)
    if kinds[-1] is Ellipsis:
        kinds = (kinds[0],) * len(plain)
    _want(len(plain) == len(kinds), plain, f"a list of {len(kinds)}", where)
    return tuple(
        _read(k, item, f"{where}[{n}]") for n, (k, item) in enumerate(zip(kinds, plain, strict=True))
    )


def _read_noun(kind: type, plain: Any, where: str) -> Any:
    _want(isinstance(plain, dict), plain, "an object", where)
    hints = get_type_hints(kind)
    known: dict[str, Field[Any]] = {item.name: item for item in fields(kind)}
    for name in plain:
        if name not in known:
            raise LayoutError(f"{where}: {name!r} is not known; it may be {', '.join(known)}")
    for name, item in known.items():
        if name not in plain and item.default is MISSING and item.default_factory is MISSING:
            raise LayoutError(f"{where}: {name} is missing")
    values = {name: _read(hints[name], value, f"{where}.{name}") for name, value in plain.items()}
    try:
        return kind(**values)
    except LayoutError:
        raise
    except ValueError as error:
        raise LayoutError(f"{where}: {error}") from error


def _read_enum(kind: type[Enum], plain: Any, where: str) -> Enum:
    try:
        return kind(plain)
    except ValueError as error:
        allowed = ", ".join(repr(item.value) for item in kind)
        raise LayoutError(f"{where} is {_shown(plain)}; give one of {allowed}") from error


def _read_simple(kind: type, plain: Any, where: str) -> Any:
    if kind is float:
        _want(isinstance(plain, (int, float)) and not isinstance(plain, bool), plain, "a number", where)
        _want(isinstance(plain, float) or abs(plain) < 10**300, plain, "a number", where)
        return float(plain)
    if kind is int:
        _want(isinstance(plain, int) and not isinstance(plain, bool), plain, "a whole number", where)
    elif kind is bool:
        _want(isinstance(plain, bool), plain, "true or false", where)
    else:
        _want(isinstance(plain, str), plain, "text", where)
    return plain


def _want(holds: bool, plain: object, what: str, where: str) -> None:
    if not holds:
        raise LayoutError(f"{where} is {_shown(plain)}; give {what}")


def _shown(plain: object) -> str:
    shown = repr(plain)
    return shown if len(shown) <= 40 else shown[:37] + "..."
