"""Intervals: arrays of ranges that pass through numpy's functions. Ranges of arguments in, ranges of results out.

`Interval` takes part in numpy's `__array_ufunc__` and `__array_function__`, so a formula written for floats runs on
ranges unchanged. What ranges cannot mean is refused with TypeError; nothing turns into plain numbers by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, cast

import numpy as np
from numpy.lib.mixins import NDArrayOperatorsMixin

from deadfront.intervals.arithmetic import RULES
from deadfront.intervals.curves import Curve
from deadfront.intervals.everyday import EVERYDAY, FINITE, LOOKED, NOT_NEGATIVE, POSITIVE, SIGNED, both_of
from deadfront.intervals.rounding import OPERATION, SLOW, Ends, Floats, guard
from deadfront.intervals.tags import Tag, tag_of
from deadfront.intervals.truth import COMPARISONS, CONNECTIVES, Flags, Verdicts


class Interval(NDArrayOperatorsMixin):
    """An array of ranges, each with both its ends; `facts` is what is known of all of them, see `everyday`.

    lower, upper   ends, of one shape; infinite ends are values; NaN in both: the value is not known to exist
    raises         ValueError: shapes that do not match, or a lower end above its upper end
    """

    __slots__ = ("facts", "lower", "tag", "upper")
    __hash__ = None  # type: ignore[assignment]

    def __init__(self, lower: Any, upper: Any) -> None:
        low, high = np.asarray(lower, dtype=np.float64), np.asarray(upper, dtype=np.float64)
        if low.shape != high.shape:
            raise ValueError(f"lower, upper: expected one shape, got {low.shape} and {high.shape}")
        if (low > high).any():
            raise ValueError("lower, upper: a lower end lies above its upper end")
        unknown = np.isnan(low) | np.isnan(high)
        self.lower: Floats = np.where(unknown, np.nan, low) if unknown.any() else low
        self.upper: Floats = np.where(unknown, np.nan, high) if unknown.any() else high
        self.tag: Tag = None
        self.facts = 0

    @classmethod
    def of_ends(cls, ends: Ends, facts: int = 0, tag: Tag = None) -> Interval:
        """From the ends a rule gave, which are in order, and what is known of them."""
        new = object.__new__(cls)
        new.lower, new.upper = ends
        new.facts, new.tag = facts, tag
        return new

    def tagged(self, tag: Tag) -> Interval:
        """The same ranges with a tag: see `tags`."""
        return Interval.of_ends(self.ends, self.facts, tag)

    @property
    def ends(self) -> Ends:
        """Lower and upper ends."""
        return self.lower, self.upper

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of the array of ranges."""
        return self.lower.shape

    @property
    def ndim(self) -> int:
        """Number of axes."""
        return self.lower.ndim

    @property
    def size(self) -> int:
        """Number of ranges."""
        return self.lower.size

    def contains(self, x: Any) -> Any:
        """Whether the range is known to hold x: False where either is NaN."""
        return (self.lower <= x) & (x <= self.upper)

    def __getitem__(self, key: Any) -> Interval:
        return Interval.of_ends((self.lower[key], self.upper[key]), self.facts, self.tag)

    def reshape(self, *shape: Any) -> Interval:
        """The same ranges in another shape."""
        return Interval.of_ends((self.lower.reshape(*shape), self.upper.reshape(*shape)), self.facts, self.tag)

    def __repr__(self) -> str:
        return f"Interval({self.lower!r}, {self.upper!r})"

    def __array__(self, *_args: Any, **_options: Any) -> Any:
        raise TypeError("a range cannot become a plain array: ask .lower or .upper")

    def __float__(self) -> float:
        raise TypeError("a range cannot become a plain number: ask .lower or .upper")

    def __bool__(self) -> bool:
        raise TypeError("a range is neither true nor false")

    def __add__(self, other: Any) -> Any:
        return binary(np.add, self, other)

    def __radd__(self, other: Any) -> Any:
        return binary(np.add, other, self)

    def __sub__(self, other: Any) -> Any:
        return binary(np.subtract, self, other)

    def __rsub__(self, other: Any) -> Any:
        return binary(np.subtract, other, self)

    def __mul__(self, other: Any) -> Any:
        return binary(np.multiply, self, other)

    def __rmul__(self, other: Any) -> Any:
        return binary(np.multiply, other, self)

    def __truediv__(self, other: Any) -> Any:
        return binary(np.divide, self, other)

    def __rtruediv__(self, other: Any) -> Any:
        return binary(np.divide, other, self)

    def __neg__(self) -> Interval:
        return cast("Interval", computed(np.negative, (self,)))

    def __array_ufunc__(self, ufunc: np.ufunc, method: str, *inputs: Any, **options: Any) -> Any:
        if method == "reduce" and ufunc in _REDUCTIONS:
            return reduced(ufunc, inputs[0], **options)
        if method != "__call__" or options:
            raise TypeError(f"np.{ufunc.__name__} with {method} or {sorted(options)} is not defined for ranges")
        if len(inputs) == 2:
            return binary(ufunc, *inputs)
        return computed(ufunc, inputs)

    def __array_function__(self, function: Any, types: Any, args: Any, kwargs: Any) -> Any:
        return Interval.answer(function, types, args, kwargs)

    @staticmethod
    def answer(function: Any, types: Any, args: Any, kwargs: Any) -> Any:
        """What one of numpy's functions gives for ranges and truths; NotImplemented where another type joins in."""
        if not all(t in (Interval, Truth, np.ndarray) for t in types):
            return NotImplemented
        if function not in SHAPING and function not in _FUNCTIONS:
            raise TypeError(f"np.{function.__name__} is not defined for ranges")
        result = shaped(function, args, kwargs) if function in SHAPING else _FUNCTIONS[function](*args, **kwargs)
        tag = tag_of([args, list(kwargs.values())])
        for one in result if isinstance(result, (list, tuple)) else [result]:
            if isinstance(one, (Interval, Truth)):
                one.tag = tag
        return result


def binary(ufunc: np.ufunc, x: Any, y: Any) -> Any:
    """A function of two arguments; NotImplemented where one is a gradient, or a truth, which refuses."""
    if x is y and ufunc is np.multiply:
        return computed(np.square, (x,))  # one value times itself, never two values apart
    if type(x) is not Interval:
        if not isinstance(x, _PLAIN):
            return NotImplemented
        x = as_interval(x)
    if type(y) is not Interval:
        if not isinstance(y, _PLAIN):
            return NotImplemented
        y = as_interval(y)
    return computed(ufunc, (x, y))


_PLAIN = (int, float, np.ndarray, np.generic)


def computed(ufunc: np.ufunc, arguments: tuple[Interval, ...]) -> Any:
    """Ranges or truths of a function of ranges, by the shortest way that is sound."""
    everyday = EVERYDAY.get(ufunc)
    if everyday is not None:
        try:
            if guard.on:
                found = everyday(*arguments)
            else:
                with np.errstate(over="raise", under="raise", divide="ignore", invalid="ignore"):
                    found = everyday(*arguments)
        except FloatingPointError:
            found = None
        if found is not None:
            guard.work += OPERATION + found[0].size
            return Interval.of_ends(found[:2], found[2], joined_tag(arguments))
    ends = [x.ends for x in arguments]
    if ufunc in COMPARISONS:
        truth = Truth(*COMPARISONS[ufunc](*ends))
        truth.tag = joined_tag(arguments)
        return truth
    if ufunc not in RULES:
        raise TypeError(f"np.{ufunc.__name__} is not defined for ranges")
    result = RULES[ufunc](*ends)
    guard.work += SLOW * (OPERATION + result[0].size)
    return Interval.of_ends(result, 0, joined_tag(arguments))


def joined_tag(arguments: tuple[Interval, ...]) -> Tag:
    """The tag of what follows from some ranges."""
    first = arguments[0].tag
    if len(arguments) == 1 or arguments[1].tag is None:
        return first
    return arguments[1].tag if first is None else tag_of(arguments)


class Truth(NDArrayOperatorsMixin):
    """Whether something holds over a range: surely, surely not, or undecided.

    certain    holds at every point of the range       bool array
    possible   holds at some point, or may             bool array of the same shape
    """

    __slots__ = ("certain", "possible", "tag")
    __hash__ = None  # type: ignore[assignment]

    def __init__(self, certain: Any, possible: Any) -> None:
        self.certain: Flags = np.asarray(certain, dtype=np.bool_)
        self.possible: Flags = np.asarray(possible, dtype=np.bool_)
        self.tag: Tag = None

    @property
    def undecided(self) -> Flags:
        """Where it may hold and may not."""
        return self.possible & ~self.certain

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of the flags."""
        return self.certain.shape

    def __getitem__(self, key: Any) -> Truth:
        part = self.like(self.certain[key], self.possible[key], [self])
        part.tag = self.tag
        return part

    def like(self, certain: Any, possible: Any, _sources: Sequence[Truth]) -> Truth:
        """A truth of the same kind that follows from others."""
        return Truth(certain, possible)

    def __bool__(self) -> bool:
        raise TypeError("a truth over ranges is no yes or no: use np.where, or ask .certain or .possible")

    def __array__(self, *_args: Any, **_options: Any) -> Any:
        raise TypeError("a truth over ranges cannot become a plain array: ask .certain or .possible")

    def __repr__(self) -> str:
        return f"{type(self).__name__}(certain={self.certain!r}, possible={self.possible!r})"

    def __array_ufunc__(self, ufunc: np.ufunc, method: str, *inputs: Any, **options: Any) -> Any:
        rule = CONNECTIVES.get(ufunc)
        if rule is None or method != "__call__" or options:
            raise TypeError(f"np.{ufunc.__name__} is not defined for a truth over ranges")
        truths = [x for x in inputs if isinstance(x, Truth)]
        widest = next((x for x in truths if type(x) is not Truth), truths[0])
        result = widest.like(*rule(*(verdicts(x) for x in inputs)), truths)
        result.tag = tag_of(truths)
        return result

    def __array_function__(self, function: Any, types: Any, args: Any, kwargs: Any) -> Any:
        return Interval.answer(function, types, args, kwargs)


def verdicts(x: Any) -> Verdicts:
    """What surely and what may hold, of a truth or of plain flags; TypeError for anything else."""
    if isinstance(x, Truth):
        return x.certain, x.possible
    if isinstance(x, NDArrayOperatorsMixin) or np.asarray(x).dtype != np.bool_:
        raise TypeError(f"a condition over ranges is made of comparisons and bool arrays, got {type(x).__name__}")
    flags = np.asarray(x)
    return flags, flags


def ends_of(x: Any) -> Ends:
    """Ends of a range; a plain number or array is a range of no width."""
    if isinstance(x, Interval):
        return x.lower, x.upper
    point = np.asarray(x, dtype=np.float64)
    return point, point


def as_interval(x: Any) -> Interval:
    """A plain number or array as a range of no width; a range as it is."""
    if isinstance(x, Interval):
        return x
    if type(x) is float:
        facts = LOOKED | (FINITE if -np.inf < x < np.inf else 0) | SIGNED
        point = cast("Floats", np.float64(x))  # computes like an array without axes, and faster
        return Interval.of_ends(
            (point, point), facts | (NOT_NEGATIVE if x >= 0.0 else 0) | (POSITIVE if x > 0.0 else 0)
        )
    return Interval.of_ends(ends_of(x))


def choose(condition: Any, yes: Any, no: Any) -> Interval:
    """np.where over ranges: one branch where the condition is decided, the hull of both where it is not.

    A branch that is not chosen leaves no trace, whatever it holds; NaN in a branch that may be chosen gives NaN.
    """
    certain, possible = verdicts(condition)
    first, second = as_interval(yes), as_interval(no)
    facts = both_of(first.facts, second.facts)
    if certain is possible or not (possible & ~certain).any():
        ends = np.where(certain, first.lower, second.lower), np.where(certain, first.upper, second.upper)
        return Interval.of_ends(ends, facts)
    low, high = np.minimum(first.lower, second.lower), np.maximum(first.upper, second.upper)
    low = np.where(certain, first.lower, np.where(possible, low, second.lower))
    high = np.where(certain, first.upper, np.where(possible, high, second.upper))
    return Interval.of_ends((low, high), facts)


def interpolate(x: Any, xp: Any, fp: Any, left: Any = None, right: Any = None, period: Any = None) -> Interval:
    """np.interp of a range on a fixed curve."""
    if period is not None or isinstance(xp, Interval) or isinstance(fp, Interval):
        raise TypeError("np.interp: ranges need a fixed curve without a period")
    return Interval.of_ends(Curve.of(xp, fp, left, right).values(ends_of(x)))


def polynomial(p: Any, x: Any) -> Interval:
    """np.polyval of a range with fixed coefficients, highest power first, the better of two forms.

    p(x) = b_n + (x - c) q(x) with c near the middle of the range and q the quotient p/(x - c), beside Horner's form: in
    the first the range counts as the slope says and no more, however much the terms of p cancel.
    """
    if isinstance(p, NDArrayOperatorsMixin):
        raise TypeError("np.polyval: ranges need fixed coefficients")
    powers = [as_interval(np.asarray(one, dtype=np.float64)) for one in p]
    with np.errstate(all="ignore"):
        middle = as_interval(np.nan_to_num(0.5 * x.lower + 0.5 * x.upper, nan=0.0, posinf=0.0, neginf=0.0))
    plain, quotient, last = powers[0], [], powers[0]
    for coefficient in powers[1:]:
        quotient.append(last)
        plain, last = plain * x + coefficient, last * middle + coefficient
    if not quotient:
        return plain
    slope = quotient[0]
    for coefficient in quotient[1:]:
        slope = slope * x + coefficient
    centred = last + (x - middle) * slope
    # Where one form is undecided, as beyond all numbers, the other counts.
    ends = np.fmax(plain.lower, centred.lower), np.fmin(plain.upper, centred.upper)
    return Interval.of_ends(ends, plain.facts & centred.facts & (LOOKED | FINITE))


def reduced(ufunc: np.ufunc, x: Interval, **options: Any) -> Interval:
    """Sum, least or greatest along axes; the sum adds one by one, so its error stays enclosed."""
    axis, keepdims = options.pop("axis", 0), options.pop("keepdims", False)
    if any(value is not None and value is not np._NoValue for value in options.values()):
        raise TypeError(f"np.{ufunc.__name__}.reduce with {sorted(options)} is not defined for ranges")
    axes = range(x.ndim) if axis is None else np.atleast_1d(axis) % max(x.ndim, 1)
    for one in sorted(axes, reverse=True):
        slices = [x[(slice(None),) * int(one) + (slice(k, k + 1),)] for k in range(x.shape[one])]
        if not slices:
            raise ValueError(f"np.{ufunc.__name__}.reduce: no ranges along axis {one}")
        total = slices[0]
        for part in slices[1:]:
            total = ufunc(total, part)
        x = total if keepdims else total[(slice(None),) * int(one) + (0,)]
    return x


def shaped(function: Any, args: Any, kwargs: Any) -> Any:
    """A function that only moves elements, done to both ends of every range among its arguments."""
    low = function(*(mapped(lambda x: ends_of(x)[0], a) for a in args), **kwargs)
    high = function(*(mapped(lambda x: ends_of(x)[1], a) for a in args), **kwargs)
    if isinstance(low, (tuple, list)):
        return type(low)(Interval.of_ends(ends) for ends in zip(low, high, strict=True))
    return Interval.of_ends((low, high))


def mapped(change: Callable[[Any], Any], argument: Any) -> Any:
    """An argument of a shaping function with every range in it changed; all else (axes, shapes) as it is."""
    if isinstance(argument, (list, tuple)):
        return type(argument)(mapped(change, one) for one in argument)
    return change(argument) if isinstance(argument, NDArrayOperatorsMixin) else argument


_REDUCTIONS = (np.add, np.minimum, np.maximum)

SHAPING = (
    np.reshape,
    np.ravel,
    np.expand_dims,
    np.squeeze,
    np.broadcast_to,
    np.broadcast_arrays,
    np.stack,
    np.concatenate,
    np.moveaxis,
    np.swapaxes,
    np.transpose,
    np.atleast_1d,
    np.atleast_2d,
    np.take,
    np.copy,
)
"""Functions that only move elements about."""


def _sum(a: Any, axis: Any = None, keepdims: bool = False) -> Interval:
    return reduced(np.add, a, axis=axis, keepdims=bool(keepdims))


def _max(a: Any, axis: Any = None, keepdims: bool = False) -> Interval:
    return reduced(np.maximum, a, axis=axis, keepdims=bool(keepdims))


def _min(a: Any, axis: Any = None, keepdims: bool = False) -> Interval:
    return reduced(np.minimum, a, axis=axis, keepdims=bool(keepdims))


def _any(a: Truth, axis: Any = None, keepdims: bool = False) -> Truth:
    return a.like(a.certain.any(axis=axis, keepdims=keepdims), a.possible.any(axis=axis, keepdims=keepdims), [a])


def _all(a: Truth, axis: Any = None, keepdims: bool = False) -> Truth:
    return a.like(a.certain.all(axis=axis, keepdims=keepdims), a.possible.all(axis=axis, keepdims=keepdims), [a])


_FUNCTIONS: dict[Any, Any] = {
    np.where: choose,
    np.interp: interpolate,
    np.polyval: polynomial,
    np.sum: _sum,
    np.max: _max,
    np.min: _min,
    np.amax: _max,
    np.amin: _min,
    np.any: _any,
    np.all: _all,
    np.shape: lambda a: a.shape,
    np.ndim: lambda a: len(a.shape),
    np.size: lambda a: int(np.prod(a.shape)),
    np.zeros_like: lambda a, **options: np.zeros(a.shape, **options),
    np.ones_like: lambda a, **options: np.ones(a.shape, **options),
    np.full_like: lambda a, fill_value, **options: np.full(a.shape, fill_value, **options),
}
