"""What cuts a tile: the words that its sheet has for it, with what tells it from the others. The words are never read back."""

from __future__ import annotations

from typing import Self

from layout.words import spelt


class CutBy(str):
    """What cuts a tile, as its sheet calls it.

    `wall` is the number of the wall that it is, 0 if it is none; of a side of a thing `owner` is the thing and `side` which side it is.
    """

    wall: int
    owner: str
    side: str

    __slots__ = ("owner", "side", "wall")

    def __new__(cls, words: str, wall: int = 0, owner: str = "", side: str = "") -> Self:
        """The words said in the language of the drawing, with the rest."""
        made = super().__new__(cls, spelt(words))
        made.wall, made.owner, made.side = wall, owner, side
        return made

    @property
    def rank(self) -> tuple[int, int, str]:
        """Walls in the order of their numbers, then all else by name."""
        return (0, self.wall, "") if self.wall else (1, 0, str(self))
