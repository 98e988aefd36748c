"""Intervals: ranges with the slopes they can have. Ranges of the inputs in; ranges of value and slopes out.

A slope here bounds how fast the value can move with one input while the others stay anywhere in the box: on every
segment along that input the difference of two values is the difference of the input times a number in the slope's
range. Where a box holds a jump there is no such number and the slope is without bound, in every input that can move
the jump, also one that only enters a condition. Infinite ends of a slope mean "without bound".
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

import numpy as np
from numpy.lib.mixins import NDArrayOperatorsMixin

from deadfront.intervals import slopes
from deadfront.intervals.curves import Curve
from deadfront.intervals.everyday import POSITIVE
from deadfront.intervals.interval import (
    SHAPING,
    Interval,
    Truth,
    as_interval,
    choose,
    computed,
    interpolate,
    mapped,
    polynomial,
    reduced,
)
from deadfront.intervals.tags import tag_of
from deadfront.intervals.truth import COMPARISONS

Inputs = tuple[int, ...]


class Dual(NDArrayOperatorsMixin):
    """An array of ranges with their slopes in the inputs they depend on.

    value    ranges                                                  shape (...)
    inputs   numbers of the inputs it depends on, ascending
    slope    ranges of the slopes in those inputs, in that order     shape (len(inputs), ...) or broadcasting to it;
             infinite ends: without bound, and never NaN
    """

    __slots__ = ("inputs", "slope", "value")
    __hash__ = None  # type: ignore[assignment]

    def __init__(self, value: Interval, inputs: Inputs, slope: Interval) -> None:
        self.value, self.inputs, self.slope = value, inputs, slope

    @classmethod
    def variable(cls, value: Interval, number: int) -> Dual:
        """An input itself: slope one in itself."""
        one = np.ones((1,) * (value.ndim + 1))
        return cls(value, (number,), as_interval(one))

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of the array of ranges."""
        return self.value.shape

    @property
    def ndim(self) -> int:
        """Number of axes."""
        return self.value.ndim

    @property
    def size(self) -> int:
        """Number of ranges."""
        return self.value.size

    def slope_in(self, number: int) -> Interval:
        """Slope in one input, of the value's own shape; zero for an input it does not depend on."""
        if number not in self.inputs:
            return as_interval(np.zeros(self.shape))
        slope = self.slope[self.inputs.index(number)]
        return Interval.of_ends((np.broadcast_to(slope.lower, self.shape), np.broadcast_to(slope.upper, self.shape)))

    def __getitem__(self, key: Any) -> Dual:
        return self._reshaped(lambda x: x[key])

    def reshape(self, *shape: Any) -> Dual:
        """The same ranges in another shape."""
        return self._reshaped(lambda x: x.reshape(*shape))

    def _reshaped(self, change: Any) -> Dual:
        parts = [change(self.slope_in(number)) for number in self.inputs]
        return Dual(change(self.value), self.inputs, _stacked(parts))

    def __repr__(self) -> str:
        return f"Dual({self.value!r}, inputs={self.inputs!r}, slope={self.slope!r})"

    def __array__(self, *_args: Any, **_options: Any) -> Any:
        raise TypeError("a range with slopes cannot become a plain array: ask .value")

    def __float__(self) -> float:
        raise TypeError("a range with slopes cannot become a plain number: ask .value")

    def __bool__(self) -> bool:
        raise TypeError("a range with slopes is neither true nor false")

    def __add__(self, other: Any) -> Any:
        return derived(np.add, (self, other))

    def __radd__(self, other: Any) -> Any:
        return derived(np.add, (other, self))

    def __sub__(self, other: Any) -> Any:
        return derived(np.subtract, (self, other))

    def __rsub__(self, other: Any) -> Any:
        return derived(np.subtract, (other, self))

    def __mul__(self, other: Any) -> Any:
        return derived(np.multiply, (self, other))

    def __rmul__(self, other: Any) -> Any:
        return derived(np.multiply, (other, self))

    def __truediv__(self, other: Any) -> Any:
        return derived(np.divide, (self, other))

    def __rtruediv__(self, other: Any) -> Any:
        return derived(np.divide, (other, self))

    def __neg__(self) -> Any:
        return derived(np.negative, (self,))

    def __array_ufunc__(self, ufunc: np.ufunc, method: str, *inputs: Any, **options: Any) -> Any:
        if method == "reduce" and ufunc in (np.add, np.minimum, np.maximum):
            return reduced(ufunc, inputs[0], **options)
        if method != "__call__" or options:
            raise TypeError(f"np.{ufunc.__name__} with {method} or {sorted(options)} is not defined for ranges")
        return derived(ufunc, inputs)

    def __array_function__(self, function: Any, types: Any, args: Any, kwargs: Any) -> Any:
        return answer(function, types, args, kwargs)


class MovedTruth(Truth):
    """A truth that some inputs can move: where it is undecided, what it chooses may jump as they move."""

    __slots__ = ("inputs",)

    def __init__(self, certain: Any, possible: Any, inputs: Inputs) -> None:
        super().__init__(certain, possible)
        self.inputs = inputs

    def like(self, certain: Any, possible: Any, sources: Sequence[Truth]) -> Truth:
        """A truth that follows from others, moved by whatever moves one of them."""
        return MovedTruth(certain, possible, depends_on(sources))

    def __array_function__(self, function: Any, types: Any, args: Any, kwargs: Any) -> Any:
        return answer(function, types, args, kwargs)


def derived(ufunc: np.ufunc, arguments: tuple[Any, ...]) -> Any:
    """Value and slopes of a function of arguments of which one at least is a gradient."""
    if len(arguments) == 2 and arguments[0] is arguments[1] and ufunc is np.multiply:
        ufunc, arguments = np.square, arguments[:1]
    for x in arguments:
        if isinstance(x, Truth):
            raise TypeError(f"np.{ufunc.__name__} is not defined for a truth over ranges")
    values = tuple(value_of(x) for x in arguments)
    if ufunc in COMPARISONS:
        truth = computed(ufunc, values)
        moved = MovedTruth(truth.certain, truth.possible, depends_on(arguments))
        moved.tag = truth.tag
        return moved
    if ufunc not in slopes.CHAIN:
        raise TypeError(f"np.{ufunc.__name__} is not defined for ranges with slopes")
    result = computed(ufunc, values)
    if len(arguments) == 1:
        (x,) = arguments
        return Dual(result, x.inputs, slopes.CHAIN[ufunc](result, x.slope, values[0]))
    numbers, (first, second) = _together(arguments, result.ndim)
    return Dual(result, numbers, slopes.CHAIN[ufunc](result, first, second, *values))


def _together(arguments: Sequence[Any], ndim: int) -> tuple[Inputs, list[Interval | None]]:
    """Inputs of some arguments together, and the slopes of each in them; None where an argument has none."""
    numbers = depends_on(arguments)
    return numbers, [_spread(x, numbers, ndim) if isinstance(x, Dual) else None for x in arguments]


def answer(function: Any, types: Any, args: Any, kwargs: Any) -> Any:
    """What one of numpy's functions gives where ranges with slopes take part."""
    if not all(t in (Dual, MovedTruth, Truth, Interval, np.ndarray) for t in types):
        return NotImplemented
    if function is np.where:
        return _choose(*args, **kwargs)
    if function is np.interp:
        return _interpolate(*args, **kwargs)
    if function is np.polyval:
        return _polynomial(*args, **kwargs)
    if function in SHAPING:
        return _shaped(function, args, kwargs)
    return Interval.answer(function, (Interval,), args, kwargs)  # shape, sum, max ... and refusal


def value_of(x: Any) -> Interval:
    """Ranges without their slopes; a plain array as ranges of no width."""
    return x.value if isinstance(x, Dual) else as_interval(x)


def depends_on(parts: Sequence[Any]) -> Inputs:
    """Numbers of all inputs that one of the parts depends on, ascending."""
    found: Inputs = ()
    for x in parts:
        if isinstance(x, (Dual, MovedTruth)) and x.inputs != found:
            found = tuple(sorted({*found, *x.inputs})) if found else x.inputs
    return found


def _spread(x: Dual, numbers: Inputs, ndim: int) -> Interval:
    """Slopes of a gradient in `numbers`, zero where it does not depend on one, with `ndim` axes behind the inputs."""
    slope, same = x.slope, x.inputs == numbers
    if slope.ndim != ndim + 1:
        slope = slope.reshape((len(x.inputs),) + (1,) * (ndim + 1 - slope.ndim) + slope.shape[1:])
    if same:
        return slope
    wide = np.zeros((2, len(numbers), *slope.shape[1:]))
    place = [numbers.index(n) for n in x.inputs]
    wide[0, place], wide[1, place] = slope.lower, slope.upper
    kept = slope.facts & ~POSITIVE
    return Interval.of_ends((wide[0], wide[1]), kept)


def _stacked(parts: Sequence[Interval]) -> Interval:
    return Interval.of_ends((np.stack([part.lower for part in parts]), np.stack([part.upper for part in parts])))


def _choose(condition: Any, yes: Any, no: Any) -> Dual:
    """np.where: slopes of the branch that is chosen, the hull of both where undecided, no bound where it may jump."""
    values = value_of(yes), value_of(no)
    value = choose(condition, *values).tagged(tag_of([condition, *values]))
    numbers = depends_on((condition, yes, no))
    first, second = (
        _spread(x, numbers, value.ndim) if isinstance(x, Dual) else slopes.still(len(numbers), value.ndim)
        for x in (yes, no)
    )
    slope = choose(condition, first, second)
    if isinstance(condition, MovedTruth) and condition.undecided.any():
        moved = np.array([n in condition.inputs for n in numbers]).reshape((-1,) + (1,) * value.ndim)
        jump = condition.undecided & moved
        slope = Interval.of_ends((np.where(jump, -np.inf, slope.lower), np.where(jump, np.inf, slope.upper)))
    return Dual(value, numbers, slope)


def _interpolate(x: Any, xp: Any, fp: Any, left: Any = None, right: Any = None, period: Any = None) -> Dual:
    """np.interp of a range with slopes on a fixed curve."""
    if not isinstance(x, Dual):
        raise TypeError("np.interp: ranges need a fixed curve without a period")
    value = interpolate(x.value, xp, fp, left, right, period).tagged(x.value.tag)
    steep = Curve.of(xp, fp, left, right).slopes(x.value.ends)
    return Dual(value, x.inputs, slopes.chained(Interval.of_ends(steep), x.slope))


def _polynomial(p: Any, x: Any) -> Dual:
    """np.polyval of a range with slopes: those of the derivative."""
    if not isinstance(x, Dual):
        raise TypeError("np.polyval: ranges need fixed coefficients")
    powers = list(p)
    steep = [(len(powers) - 1 - k) * np.asarray(one) for k, one in enumerate(powers[:-1])] or [np.zeros(())]
    value = polynomial(powers, x.value).tagged(x.value.tag)
    return Dual(value, x.inputs, slopes.chained(polynomial(steep, x.value), x.slope))


def _shaped(function: Any, args: Any, kwargs: Any) -> Any:
    """A function that only moves elements, done to the value and to the slope in each input."""
    numbers = depends_on(_flat(args))
    value = function(*(mapped(value_of, a) for a in args), **kwargs)
    parts = [function(*(mapped(partial(_slope_or_zero, n), a) for a in args), **kwargs) for n in numbers]
    if isinstance(value, (tuple, list)):
        return type(value)(Dual(one, numbers, _stacked([part[i] for part in parts])) for i, one in enumerate(value))
    return Dual(value, numbers, _stacked(parts))


def _slope_or_zero(number: int, x: Any) -> Interval:
    return x.slope_in(number) if isinstance(x, Dual) else as_interval(np.zeros(x.shape))


def _flat(args: Any) -> list[Any]:
    found = []
    for one in args:
        found += _flat(one) if isinstance(one, (list, tuple)) else [one]
    return found
