"""A page that is served while the program runs, by its address."""

import threading
from collections.abc import Callable

__all__ = ["serving"]


def serving(serves: Callable[[Callable[[str], None]], object]) -> tuple[str, threading.Thread]:
    """Runs what serves a page, and tells its address to what it is given; gives the address, and the thread that ends with it."""
    urls: list[str] = []
    there = threading.Event()

    def told(url: str) -> None:
        urls.append(url)
        there.set()

    thread = threading.Thread(target=serves, args=(told,), daemon=True)
    thread.start()
    assert there.wait(20)
    return urls[0], thread
