"""How many spots it takes until an interval is as narrow as somebody wants it."""

from __future__ import annotations

import math

from roomir.decay.combine import LEAST_SPOTS

MOST_SPOTS = 40
"""Nobody claps in more; beyond it the answer is that spots will not do it."""

_Z95 = 1.959964
_CONFIDENCE = 0.975


def spots_needed(
    relative_half_width: float, *, n_spots: int, interval_from: str, target: float
) -> int | None:
    r"""Project a 95 % interval to more spots.

    Parameters
    ----------
    relative_half_width : float
        Half of the present interval over the decay time.
    n_spots : int
        Spots behind it.
    interval_from : str
        ``"scatter"``: the spots' own scatter with Student's t; ``"prior"``:
        theory with an assumed scatter and the normal distribution.
    target : float
        Half-width wanted, over the decay time.

    Returns
    -------
    int or None
        Spots in all, the present ones included; the present number where it
        suffices, ``None`` where `MOST_SPOTS` would not.

    Notes
    -----
    The half-width is :math:`h_n = q_n s / \sqrt n` with the scatter *s* of a
    spot and the quantile :math:`q_n` of Student's t with n - 1 degrees of
    freedom (1.96 for a prior). With *s* from the present interval the least m
    is returned for which :math:`t_{m-1} s / \sqrt m` is within the target, and
    m is at least `LEAST_SPOTS`, from which on the scatter is seen. The next
    spots decide how it turns out: *s* from four spots is itself uncertain by
    40 % (:math:`1/\sqrt{2(n-1)}`).

    Examples
    --------
    >>> spots_needed(0.04, n_spots=5, interval_from="scatter", target=0.05)
    5
    >>> spots_needed(0.10, n_spots=4, interval_from="scatter", target=0.05)
    9
    """
    from scipy.special import stdtrit

    seen = interval_from == "scatter"
    if seen and relative_half_width <= target:
        return n_spots
    now = float(stdtrit(n_spots - 1, _CONFIDENCE)) if seen else _Z95
    scatter = relative_half_width * math.sqrt(n_spots) / now
    for n in range(max(LEAST_SPOTS, n_spots + seen), MOST_SPOTS + 1):
        if float(stdtrit(n - 1, _CONFIDENCE)) * scatter / math.sqrt(n) <= target:
            return n
    return None
