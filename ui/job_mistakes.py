"""What is wrong with a job file, said as a maker would be told: where, what stands there, what to give."""

from typing import Any

from pydantic import ValidationError

__all__ = ["first_mistake", "shown"]

_NUMBER_WANTED = {"float_parsing", "float_type", "int_parsing", "int_type", "int_from_float", "finite_number"}
_LISTS = {
    "boards": ("board", "id"),
    "parts": ("part", "name"),
    "marks": ("mark", "id"),
    "zones": ("zone", "name"),
}


def first_mistake(error: ValidationError, raw: Any) -> str:
    """The first thing wrong, as a maker would be told it."""
    first = error.errors(include_url=False)[0]
    path = tuple(first["loc"])
    *_, last = (item for item in path if isinstance(item, str)) if path else ("job",)
    kind, given = first["type"], shown(first["input"])
    if kind == "value_error":
        return _place(path, raw) + str(first["ctx"]["error"])
    if kind == "missing":
        return f"{_place(path[:-1], raw)}{path[-1]} is missing"
    if kind in ("extra_forbidden", "unexpected_keyword_argument"):
        return f"{_place(path[:-1], raw)}there is no field called {path[-1]!r}; check its spelling"
    if kind == "enum" or kind == "literal_error":
        return f"{_place(path, raw, last)}{last} is {given}; give {first['ctx']['expected']}"
    if kind in _NUMBER_WANTED:
        unit = "" if last in ("quantity", "copy", "priority", "score", "amount", "revision") else " in mm"
        return f"{_place(path, raw, last)}{last} is {given}; give a number{unit}"
    if kind in ("too_short", "missing_argument"):
        return f"{_place(path, raw, last)}{last} has too few entries"
    if kind == "greater_than":
        return f"{_place(path, raw, last)}{last} is {given}; give a number above {first['ctx']['gt']:g}"
    return f"{_place(path, raw, last)}{last} is {given}; {first['msg'][0].lower()}{first['msg'][1:]}"


def shown(value: Any) -> str:
    """A value as it stands in the file, cut to what fits in a sentence."""
    text = repr(value)
    return text if len(text) <= 40 else text[:37] + "..."


def _place(path: tuple[int | str, ...], raw: Any, but: str = "") -> str:
    """Where in the job, in words: "part 3 'side': "."""
    words, at = [], raw
    for position, step in enumerate(path):
        at = _inside(at, step)
        before = path[position - 1] if position else ""
        if isinstance(step, int) and before in _LISTS:
            noun, key = _LISTS[str(before)]
            name = at.get(key) if isinstance(at, dict) else None
            words.append(f"{noun} {step + 1}" + (f" {name!r}" if name else ""))
        elif isinstance(step, str) and step not in _LISTS and step != but:
            words.append(step)
    return ", ".join(words) + ": " if words else ""


def _inside(value: Any, step: int | str) -> Any:
    if isinstance(value, dict):
        return value.get(step)
    if isinstance(value, list) and isinstance(step, int) and step < len(value):
        return value[step]
    return None
