"""The drawing surface's script and style, joined from their files."""

from hashlib import sha256
from importlib.resources import files

__all__ = ["LOADER", "SCRIPT", "SCRIPT_NAME", "STYLE"]

_ORDER = (
    "stage.js",
    "post.js",
    "bar.js",
    "corners.js",
    "marks.js",
    "layout.js",
    "part.js",
    "list.js",
    "main.js",
)


def _text(name: str) -> str:
    return (files("ui.canvas") / name).read_text("utf-8")


STYLE = _text("style.css")
SCRIPT = "\n".join(_text(name) for name in _ORDER)
SCRIPT_NAME = f"canvas-{sha256(SCRIPT.encode()).hexdigest()[:16]}.js"

# The page sends this with every edit, so it only fetches the script, which the
# browser keeps for good under its name. A root-relative address means nothing
# to a module made from a blob: hence the full one. Two lines, or it would be
# taken for the name of a file.
LOADER = f"""const here = new URL("/clearface/{SCRIPT_NAME}", location.href).href;
export default async (given) => (await import(here)).default(given);
"""
