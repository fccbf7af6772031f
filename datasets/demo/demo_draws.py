"""Random numbers that stay the same from one numpy release to the next."""

from __future__ import annotations

import zlib

import numpy as np


class Draws:
    """A stream of its own for each purpose, so that a change in one part of the shop leaves the others alone.

    Only the raw bits of PCG64 are used: numpy promises those, but not the streams of its distributions.
    """

    def __init__(self, seed: int, *purpose: str | int) -> None:
        key = zlib.crc32("/".join(map(str, purpose)).encode())
        self._bits = np.random.PCG64(np.random.SeedSequence([seed, key]))

    def uniform(self, n: int = 1) -> np.ndarray:
        """Return n halfway points strictly between 0 and 1, shape (n,).

        Source: top 53 bits of PCG64.
        """
        return ((self._bits.random_raw(n) >> np.uint64(11)).astype(float) + 0.5) / 2.0**53

    def normal(self, n: int = 1) -> np.ndarray:
        """Return n standard normal values, shape (n,).

        Source: Box and Muller, A Note on the Generation of Random Normal Deviates, 1958 (from memory).
        """
        u = self.uniform(2 * n)
        return np.sqrt(-2.0 * np.log(u[:n])) * np.cos(2.0 * np.pi * u[n:])

    def one(self) -> float:
        """Return one standard normal value.

        Source: see `normal`.
        """
        return float(self.normal(1)[0])

    def whole(self, low: int, high: int) -> int:
        """Return one whole number, low and high included.

        Source: floor of a scaled uniform number.
        """
        return low + int(float(self.uniform(1)[0]) * (high - low + 1))

    def shuffled(self, items: list) -> list:
        """Return the items in a random order.

        Source: sorted by one uniform number each.
        """
        return [items[i] for i in np.argsort(self.uniform(len(items)), kind="stable")]
