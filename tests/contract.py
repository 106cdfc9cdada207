"""The contract ``roomir/reading/1``, written down a second time and apart from the code that fills it.

``...`` as the last element of a list means any number of elements like the first.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

NUMBER = (int, float)


def optional(kind: Any) -> tuple[str, Any]:
    """Allow ``null`` instead."""
    return ("optional", kind)


REMARK = {"code": str, "says": str, "remedy": str}
INTERVAL = ("interval",)
REFLECTION = {
    **dict.fromkeys(("delay_s", "level_db", "over_decay_db", "path_difference_m"), NUMBER),
    **dict.fromkeys(("spot", "take", "claps", "of_claps"), int),
    "verdict": {"indicative"},
}
MODE = {"orders": [int], "kind": {"axial", "tangential", "oblique"}, "frequency_hz": NUMBER}
BAND = {
    "centre_hz": NUMBER,
    **dict.fromkeys(
        (
            *("edt_s", "t20_s", "t30_s", "decay_time_s", "decay_range_db", "fitted_range_db"),
            *("nonlinearity_permille", "curvature_percent", "c50_db", "c80_db", "d50", "ts_s", "bt"),
        ),
        optional(NUMBER),
    ),
    "spot_ci95_s": optional(INTERVAL),
    "ci95_s": optional(INTERVAL),
    "slopes": optional(int),
    "verdict": {"reliable", "indicative", "unusable"},
    "reasons": [REMARK],
}
CONTRACT = {
    "schema": {"roomir/reading/1"},
    "roomir_version": str,
    "band_set": {"octave"},
    "takes": [
        {
            "path": str,
            "recorded_at": optional("time"),
            "sample_rate_hz": int,
            "duration_s": NUMBER,
            "channels": int,
            "concerns": [REMARK],
            "notes": [REMARK],
            "claps": [
                {
                    "onset_s": NUMBER,
                    "used": bool,
                    "set_aside_because": optional(REMARK),
                    "concerns": [REMARK],
                    "bands": [BAND],
                }
            ],
        }
    ],
    "failures": [{"path": str, "code": str, "says": str, "remedy": str}],
    "bands": [
        {
            **BAND,
            "claps_used": int,
            "effective_claps": optional(NUMBER),
            "spots": int,
            "interval_from": optional({"prior", "scatter"}),
        }
    ],
    "mid": {"decay_time_s": optional(NUMBER), "ci95_s": optional(INTERVAL), "t20_s": optional(NUMBER)},
    "bass_ratio": optional(NUMBER),
    "findings": {
        "flutter": optional(
            {
                **dict.fromkeys(
                    ("spacing_s", "distance_m", "double_m", "strength_db", "mean_strength_db"), NUMBER
                ),
                "beyond_chance": NUMBER,
                "bands": [
                    {
                        "centre_hz": NUMBER,
                        "found": bool,
                        "strength_db": optional(NUMBER),
                        "mean_strength_db": optional(NUMBER),
                        "beyond_chance": NUMBER,
                    }
                ],
                "pairs": [{"along": {"length", "width", "height"}, "apart_m": NUMBER, "midway": bool}],
                "verdict": {"indicative"},
            }
        ),
        "echoes": [REFLECTION],
        "two_slopes": [
            {
                **dict.fromkeys(
                    ("centre_hz", "first_s", "second_s", "second_level_db", "bend_s", "bend_db"), NUMBER
                ),
                "verdict": {"indicative"},
            }
        ],
        "early_reflections": [REFLECTION],
        "modes": optional(
            {
                "dimensions_m": [NUMBER],
                "highest_hz": NUMBER,
                "merge_hz": NUMBER,
                "box": [MODE],
                "heard": [
                    {
                        "frequency_hz": NUMBER,
                        "decay_time_s": NUMBER,
                        "level_db": NUMBER,
                        "box": [MODE],
                    }
                ],
                "verdict": {"indicative"},
            }
        ),
    },
}


def check_document(found: Any, *, wanted: Any = CONTRACT, where: str = "document") -> None:
    """Compare a parsed document with the contract; more keys may be there, none may be missing."""
    if isinstance(wanted, tuple) and wanted[0] == "optional":
        if found is not None:
            check_document(found, wanted=wanted[1], where=where)
    elif wanted == INTERVAL:
        assert isinstance(found, list), where
        assert len(found) == 2, where
        assert found[0] <= found[1], where
    elif wanted == "time":
        assert datetime.fromisoformat(found).tzinfo is not None, f"{where}: {found} has no zone"
    elif isinstance(wanted, dict):
        assert isinstance(found, dict), where
        assert not (missing := wanted.keys() - found.keys()), f"{where} lacks {missing}"
        for key, inner in wanted.items():
            check_document(found[key], wanted=inner, where=f"{where}.{key}")
    elif isinstance(wanted, list):
        assert isinstance(found, list), where
        for i, inner in enumerate(found):
            check_document(inner, wanted=wanted[0], where=f"{where}[{i}]")
    elif isinstance(wanted, set):
        assert found in wanted, f"{where}: {found}"
    else:
        # bool is an int to Python and not to a program that reads JSON.
        assert isinstance(found, wanted), f"{where}: {found!r}"
        assert wanted is bool or not isinstance(found, bool), f"{where}: {found!r}"
