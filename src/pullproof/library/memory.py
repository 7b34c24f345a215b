"""What was read from the disk and computed, kept as long as there is room: least recently used goes first."""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any

__all__ = ["Memory"]

ROOM_BYTES = 512 * 2**20


class Memory:
    """Values by key, up to a sum of bytes. Safe to use from several threads."""

    def __init__(self, room: int = ROOM_BYTES) -> None:
        self._room = room
        self._used = 0
        self._held: OrderedDict[Hashable, tuple[Any, int]] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, key: Hashable, make: Callable[[], Any], size: Callable[[Any], int]) -> Any:  # noqa: ANN401
        """The value under `key`, made if it is not held. Two threads may both make it: either result will do."""
        with self._lock:
            if key in self._held:
                self._held.move_to_end(key)
                return self._held[key][0]
        value = make()
        weight = size(value)
        with self._lock:
            if key not in self._held:
                self._held[key] = value, weight
                self._used += weight
            while self._used > self._room and len(self._held) > 1:
                _, (_, dropped) = self._held.popitem(last=False)
                self._used -= dropped
        return value

    def forget(self) -> None:
        """Drop everything."""
        with self._lock:
            self._held.clear()
            self._used = 0
