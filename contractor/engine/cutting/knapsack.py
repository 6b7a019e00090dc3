"""Exact bounded knapsack over all capacities at once, in whole numbers.

One pass over the sizes, smallest first, keeps ``best[c]``: the most that pieces seen so far are
worth in capacity c. Just before a size joins, ``worth of the size + best[capacity - width]`` is
the best content whose longest piece is of that size: one column per size and bar type for the
price of one pass (a diverse set, as column generation wants). Because later pieces are never
shorter, the table is only kept where another piece still fits. Counts are split into powers of
two. Tables are int32 where the worth fits, else int64; nothing here is rounded.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from contractor.engine.cutting.problem import Content

Whole = npt.NDArray[np.int64]
Table = npt.NDArray[np.signedinteger]
Flags = npt.NDArray[np.bool_]


class Buffers:
    """Scratch memory shared by pricers of one problem: grown, never shrunk."""

    def __init__(self) -> None:
        self.best: dict[str, Table] = {}
        self.room = np.empty(0, dtype=np.bool_)

    def table(self, kind: str, length: int) -> Table:
        if kind not in self.best or self.best[kind].size < length:
            self.best[kind] = np.empty(length, dtype=kind)
        return self.best[kind][:length]

    def taken(self, rows: int, columns: int) -> Flags:
        if self.room.size < rows * columns:
            self.room = np.empty(rows * columns, dtype=np.bool_)
        return self.room[: rows * columns].reshape(rows, columns)


class Knapsack:
    """The tables for given widths (falling), limits per size and capacities (rising)."""

    def __init__(
        self,
        widths: Sequence[int],
        limits: Sequence[int],
        capacities: Sequence[int],
        buffers: Buffers | None = None,
    ) -> None:
        self.capacities = np.asarray(capacities, dtype=np.int64)
        self.largest = int(self.capacities.max())
        self.parts = _split(widths, limits, self.largest)
        self.buffers = buffers or Buffers()
        self.cells = max(1, len(self.parts) * (self.largest + 1))
        self._looks: list[tuple[int, Whole]] = []
        self._size_of_part = np.array([size for size, _, _ in self.parts], dtype=np.int64)
        self._number_of_part = np.array([number for _, number, _ in self.parts], dtype=np.int64)
        for _, _, width in self.parts:
            first = int(np.searchsorted(self.capacities, width))
            self._looks.append((first, self.capacities[first:] - width))
        self.worth = np.zeros((len(self.parts), len(capacities)), dtype=np.int64)
        self._widths = widths
        self._views: dict[str, list[tuple[Table, Table, Table, Flags] | None]] = {}
        self._taken = self.buffers.taken(len(self.parts), self.largest + 1)
        self._taken[:] = False

    def run(self, values: Whole, is_small: bool) -> None:
        """Fill ``worth[part, bar]`` (-1: does not fit) for whole non-negative ``values``.

        ``is_small`` says that no content is worth more than 2^31 - 1 (the caller's bound).
        """
        kind = "int32" if is_small else "int64"
        best = self.buffers.table(kind, 2 * (self.largest + 1))[: self.largest + 1]
        best[:] = 0
        self.worth[:] = -1
        prices = (values[self._size_of_part] * self._number_of_part).tolist()
        add, greater, maximum = np.add, np.greater, np.maximum
        for at, views in enumerate(self._part_views(kind)):
            price = prices[at]
            if price <= 0:
                if views is not None:
                    views[3][:] = False
                continue
            first, look = self._looks[at]
            self.worth[at, first:] = best[look]
            self.worth[at, first:] += price
            if views is not None:
                source, target, scratch, taken = views
                add(source, price, out=scratch)
                greater(scratch, target, out=taken)
                maximum(scratch, target, out=target)

    def _part_views(self, kind: str) -> list[tuple[Table, Table, Table, Flags] | None]:
        if kind in self._views:
            return self._views[kind]
        table = self.buffers.table(kind, 2 * (self.largest + 1))
        best, scratch = table[: self.largest + 1], table[self.largest + 1 :]
        views: list[tuple[Table, Table, Table, Flags] | None] = []
        for at, (size, _, width) in enumerate(self.parts):
            stop = self.largest - self._widths[size] + 1
            if stop <= width:
                views.append(None)
                continue
            count = stop - width
            taken = self._taken[at, width:stop]
            views.append((best[:count], best[width:stop], scratch[:count], taken))
        self._views[kind] = views
        return views

    def best_worth(self) -> Whole:
        """Return the most any content is worth, per bar type."""
        if not self.parts:
            return np.zeros(len(self.capacities), dtype=np.int64)
        best: Whole = np.maximum(self.worth.max(axis=0), 0)
        return best

    def content(self, part: int, bar: int) -> Content:
        """Return a content worth ``worth[part, bar]`` with ``part`` as its largest."""
        size, number, width = self.parts[part]
        room = int(self.capacities[bar]) - width
        held = {size: number}
        while part and room > 0:
            part = self._last_taken(part, room)
            if part < 0:
                break
            size, number, width = self.parts[part]
            held[size] = held.get(size, 0) + number
            room -= width
        return tuple(sorted(held.items()))

    def _last_taken(self, part: int, room: int) -> int:
        column = self._taken[:part, room][::-1]
        at = int(column.argmax())
        return part - 1 - at if column[at] else -1


def _split(
    widths: Sequence[int], limits: Sequence[int], capacity: int
) -> list[tuple[int, int, int]]:
    """Return (size, number, width) parts, smallest size first; any count is a sum of parts."""
    parts: list[tuple[int, int, int]] = []
    for size in range(len(widths) - 1, -1, -1):
        left = min(limits[size], capacity // widths[size])
        number = 1
        while left > 0:
            take = min(number, left)
            parts.append((size, take, take * widths[size]))
            left -= take
            number *= 2
    return parts
