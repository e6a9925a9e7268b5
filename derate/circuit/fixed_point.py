"""The state that comes back after one period: Broyden's method on F(x) - x.

It begins as plain iteration (the first guess of the Jacobian is minus one) and learns the rest, so a quickly settling
circuit costs no more than iterating and a slowly settling one far less. Source: Broyden 1965, text-book.
"""

from __future__ import annotations

from collections.abc import Callable

State = tuple[float, ...]


def fixed_point(advance: Callable[[State], State | None], start: State, small: float, far: float) -> State | None:
    """x with advance(x) = x to within `small` in every state; None when it collapses from start.

    The states must be of one kind and size (all voltages, say); a step longer than `far` is not trusted. What has not
    settled in 60 turns, or has collapsed on the way, is walked from the start period by period, 300 at most, until it
    moves less than a tenth of `small` at a time. Begin high: walking down from full finds the upper solution.
    raises: ValueError when it settles neither way
    """
    n = len(start)
    x, g_old, step = start, (0.0,) * n, (0.0,) * n
    inverse = [[-float(r == c) for c in range(n)] for r in range(n)]
    for turn in range(60):
        new = advance(x)
        if new is None:
            break  # the search may have leapt too low: walk from the start instead
        g = tuple(b - a for a, b in zip(x, new, strict=True))
        if turn:
            _update(inverse, step, tuple(a - b for a, b in zip(g, g_old, strict=True)))
        step = tuple(-sum(w * v for w, v in zip(row, g, strict=True)) for row in inverse)
        size = max(abs(d) for d in step)
        if size < small:
            return tuple(a + d for a, d in zip(x, step, strict=True))
        if size > far:
            step = g  # plain iteration
        g_old = g
        x = tuple(a + d for a, d in zip(x, step, strict=True))
    x = start
    for _ in range(300):
        new = advance(x)
        if new is None or max(abs(b - a) for a, b in zip(x, new, strict=True)) < 0.1 * small:
            return new
        x = new
    raise ValueError("no state repeats every half cycle (at next to no load pulses are skipped): state a greater load")


def _update(inverse: list[list[float]], step: State, change: State) -> None:
    """Good Broyden update of the inverse Jacobian, by Sherman and Morrison, in place."""
    n = len(step)
    moved = [sum(w * v for w, v in zip(row, change, strict=True)) for row in inverse]
    below = sum(s * m for s, m in zip(step, moved, strict=True))
    if abs(below) < 1e-30:
        return
    across = [sum(step[k] * inverse[k][c] for k in range(n)) for c in range(n)]
    for r in range(n):
        for c in range(n):
            inverse[r][c] += (step[r] - moved[r]) * across[c] / below
