"""The mains frequency at the socket, from what the plate says."""

from __future__ import annotations

import pytest

from derate.stress.supply import widened_frequency


@pytest.mark.parametrize(
    ("plate", "socket"),
    [
        ((50.0, 60.0), (47.0, 63.0)),
        ((50.0, 50.0), (47.0, 53.0)),
        ((60.0, 60.0), (57.0, 63.0)),
        ((47.0, 63.0), (47.0, 63.0)),  # the width of the trade is there already
        ((48.0, 62.0), (47.0, 63.0)),
        ((45.0, 65.0), (45.0, 65.0)),
        ((400.0, 400.0), (397.0, 403.0)),
    ],
)
def test_the_width_of_the_trade_is_laid_around_once(plate: tuple[float, float], socket: tuple[float, float]) -> None:
    assert widened_frequency(*plate) == socket
