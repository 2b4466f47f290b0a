"""Coroutines run to their end where another loop may already be running.

The browser tests keep an event loop in the main thread, and a second one is not
allowed beside it: a thread of its own has none.
"""

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any

__all__ = ["finished"]


def finished(coroutine: Coroutine[Any, Any, None]) -> None:
    """Run it to its end in a thread of its own."""
    with ThreadPoolExecutor(1) as pool:
        pool.submit(asyncio.run, coroutine).result()
