"""What fuzzing found in the readers, kept as ordinary cases."""

from __future__ import annotations

import pytest

from derate.terms.values import ReadingError
from derate.text.nodes import compose


@pytest.mark.parametrize("value", [">5 m " * 200, ">= 8 mm" + " x" * 500])
def test_advice_quotes_no_endless_text(value: str) -> None:
    with pytest.raises(ReadingError) as caught:
        compose(f"a: 1\nb: {value}\n", "d.yaml", only=True)
    for problem in caught.value.problems:
        assert len(str(problem)) < 300 and "write `over " in problem.instead
