"""No library is let in at a version with a weakness that is known and mended.

From spot checks of public advisory pages up to June 2026 and, up to 2023, from what the advisory
database of the Python packaging authority lists for the libraries this project names. Not every
advisory was read entry by entry, and those marked "memory" were not looked up: see DEVELOPERS.md.
"""

import tomllib
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

# (library, mended in, advisory)
MENDED = (
    ("streamlit", "1.37.0", "CVE-2024-42474, memory"),
    ("streamlit", "1.11.1", "CVE-2022-35918"),
    ("streamlit", "0.81.0", "CVE-2023-27494"),
    ("starlette", "1.3.0", "CVE-2026-54282"),
    ("starlette", "1.0.1", "CVE-2026-48710"),
    ("starlette", "0.49.1", "CVE-2025-62727"),
    ("starlette", "0.27.0", "CVE-2023-29159"),
    ("pillow", "13.0.0", "CVE-2026-96639"),
    ("pillow", "12.3.0", "CVE-2026-59199"),
    ("pillow", "12.2.0", "CVE-2026-42308"),
    ("pillow", "10.2.0", "CVE-2023-50447"),
    ("pillow", "10.0.1", "CVE-2023-4863"),
    ("pillow-heif", "1.8.1", "libde265 1.1.3 and libheif 1.23.6 in the wheel: CVE-2026-54240"),
    ("pillow-heif", "1.7.0", "libheif 1.23.3 in the wheel: CVE-2026-84383, GHSA-x8r2-mggj-j6wr"),
    ("pillow-heif", "1.3.0", "CVE-2026-28231"),
    ("opencv-python", "4.12.0", "CVE-2025-53644"),
    ("opencv-python", "4.8.1.78", "CVE-2023-4863"),
    ("filelock", "3.20.3", "CVE-2026-22701"),
    ("reportlab", "3.6.13", "CVE-2023-33733, memory"),
    ("openpyxl", "2.4.2", "CVE-2017-5992"),
    ("pydantic", "2.4.0", "CVE-2024-3772, memory"),
    ("numpy", "1.22.0", "CVE-2021-41495"),
    ("scipy", "1.11.1", "CVE-2023-29824"),
    ("torch", "2.6.0", "CVE-2025-32434, memory"),
    ("onnx", "1.13.0", "CVE-2022-25882"),
    ("distributed", "2026.1.0", "CVE-2026-23528, memory"),
    ("tornado", "6.5.5", "CVE-2026-31958"),
    ("python-multipart", "0.0.27", "CVE-2026-42561"),
    ("protobuf", "6.33.5", "CVE-2026-0994, memory of the version"),
    ("pyarrow", "23.0.1", "CVE-2026-25087"),
    ("jinja2", "3.1.6", "CVE-2025-27516, memory"),
    ("h11", "0.16.0", "CVE-2025-43859, memory"),
    ("urllib3", "2.6.3", "CVE-2026-21441, memory"),
    ("requests", "2.32.4", "CVE-2024-47081, memory"),
    ("fonttools", "4.60.2", "CVE-2025-66034, memory"),
)


def floors() -> dict[str, Version]:
    """The least version of every library that the project itself names."""
    project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text())["project"]
    extras = project["optional-dependencies"].values()
    named = [*project["dependencies"], *(text for extra in extras for text in extra)]
    found: dict[str, Version] = {}
    for text in named:
        asked = Requirement(text)
        least = [Version(one.version) for one in asked.specifier if one.operator in (">=", "==")]
        assert least, f"{text}: any version is let in; name the least"
        found[canonicalize_name(asked.name)] = max(least)
    return found


@pytest.mark.parametrize(("library", "mended", "advisory"), MENDED)
def test_a_version_with_a_known_weakness_is_not_let_in(library: str, mended: str, advisory: str) -> None:
    least = floors().get(library)
    if least is not None:
        assert least >= Version(mended), f"{library} >= {least} lets in {advisory}"
    try:
        installed = Version(version(library))
    except PackageNotFoundError:
        return
    assert installed >= Version(mended), f"{library} {installed} has {advisory}"


def test_every_library_of_the_page_has_a_least_version() -> None:
    assert {"streamlit", "starlette", "pillow", "opencv-python", "pillow-heif"} <= floors().keys()
