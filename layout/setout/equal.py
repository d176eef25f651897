"""Whether two results hold the same values: arrays and shapes by their coordinates, all else by equality, field by field."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry


def same(one: Any, other: Any) -> bool:  # noqa: ANN401  # whatever a result holds
    """Whether two values are of one type and alike in all they hold, however deep.

    >>> same((np.array([1.0, 2.0]), "a"), (np.array([1.0, 2.0]), "a"))
    True
    """
    if one is other:
        return True
    if type(one) is not type(other):
        return False
    if isinstance(one, np.ndarray):
        if one.dtype == object:
            return one.shape == other.shape and all(map(same, one.ravel(), other.ravel()))
        return np.array_equal(one, other, equal_nan=one.dtype.kind == "f")
    if isinstance(one, BaseGeometry):
        return bool(shapely.equals_identical(one, other))
    if is_dataclass(one):
        return all(same(getattr(one, each.name), getattr(other, each.name)) for each in fields(one))
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(same(value, other[key]) for key, value in one.items())
    if isinstance(one, (tuple, list)):
        return len(one) == len(other) and all(map(same, one, other))
    return bool(one == other)
