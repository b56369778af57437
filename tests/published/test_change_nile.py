"""A stretch that lies below the rest, against the flow of the Nile at Aswan.

Source: the Nile data of statsmodels (flow 1871 to 1970, G. W. Cobb, The problem of the Nile: conditional
solution to a changepoint problem, Biometrika 65, 1978). The break after 1898 and the means on its sides,
1097.75 and 849.97, are those that are usually given (S).
"""

import numpy as np
import pytest

from auditor.statistics.change import lowest_stretch


@pytest.mark.parametrize("to_the_end", [True, False])
def test_the_nile_runs_lower_after_1898(to_the_end: bool) -> None:
    from statsmodels.datasets import nile

    data = nile.load_pandas().data
    flow = data["volume"].to_numpy()
    first, after, _depth = lowest_stretch((flow - flow.mean()) / flow.std(), to_the_end=to_the_end)
    assert data["year"][first - 1] == 1898
    assert after == len(flow)
    assert flow[:first].mean() == pytest.approx(1097.75, abs=0.005)
    assert flow[first:].mean() == pytest.approx(849.97, abs=0.005)
    assert np.isfinite(_depth)
