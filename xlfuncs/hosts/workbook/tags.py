"""The tags in a stretch of XML, found with numpy over its bytes.

Parsing the cells of a large sheet one by one would cost more time than computing them.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

# Positions in a file, and numbers of things in the order of the file.
Positions = npt.NDArray[np.int64]

LESS, GREATER, SLASH = b"<>/"
# Bytes by whether they may stand after the name of a tag.
AFTER_NAME = np.isin(np.arange(256), np.frombuffer(b" >/\t\r\n", np.uint8))


class Tags:
    """Tags of well-formed XML from `start` to `end`, known by their number in that stretch.

    Comments and the like, which may hold what looks like a tag, must have been blanked out.
    """

    def __init__(self, xml: bytes, start: int, end: int) -> None:
        self.data = np.frombuffer(xml, np.uint8)
        stretch = self.data[start:end]
        self.starts: Positions = np.flatnonzero(stretch == LESS) + start
        ends = np.flatnonzero(stretch == GREATER) + start
        # Only where a text or an attribute holds a > are there more of them than tags.
        if len(ends) != len(self.starts):
            ends = ends[np.searchsorted(ends, self.starts)]
        self.ends: Positions = ends
        self.initials = self.data[self.starts + 1]

    def named(self, name: bytes) -> Positions:
        """Numbers of the tags with a name; that of a closing tag begins with a slash."""
        numbers = np.flatnonzero(self.initials == name[0])
        numbers = numbers[matching(self.data, self.starts[numbers] + 1, name)]
        after = self.data[self.starts[numbers] + len(name) + 1]
        return numbers[AFTER_NAME[after]]

    def is_empty(self, numbers: Positions) -> npt.NDArray[np.bool_]:
        """Whether tags close themselves."""
        closed: npt.NDArray[np.bool_] = self.data[self.ends[numbers] - 1] == SLASH
        return closed


def matching(data: npt.NDArray[np.uint8], positions: Positions, text: bytes) -> Positions:
    """Numbers of the positions at which a text stands."""
    # What stands at every position, without a copy.
    windows = np.ndarray(len(data) - len(text) + 1, f"S{len(text)}", data, strides=(1,))
    inside = np.minimum(positions, len(windows) - 1)
    return np.flatnonzero((windows[inside] == text) & (inside == positions))


def pieces(xml: bytes, starts: Positions, ends: Positions) -> list[bytes]:
    """The bytes from each start to its end."""
    return [xml[start:end] for start, end in zip(starts.tolist(), ends.tolist(), strict=True)]
