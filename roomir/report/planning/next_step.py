"""What to hang next in a room of the logbook: prediction against reading, and a proposal."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from roomir.remarks import Remark
from roomir.report.document import Document
from roomir.report.planning.tables import number, numbers, remark_documents

if TYPE_CHECKING:  # they need numpy, which `roomir --help` does not
    from roomir.plan.model import Expected
    from roomir.plan.propose import Proposal

_Z95 = 1.959964

AS_FORESEEN, LONGER, SHORTER, NO_READING = "as predicted", "longer", "shorter", "no reading"


@dataclass(frozen=True, slots=True, kw_only=True)
class Player:
    """A sound to listen to.

    Attributes
    ----------
    words : str
        What it lets one hear.
    wav : bytes
        A WAV file.
    """

    words: str
    wav: bytes


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NextStep:
    """What is known, and what to hang next.

    Attributes
    ----------
    stage : str
        The stage that was read last; empty where none gave a reading.
    foreseen : Expected or None
        What the description alone lets expect; None without a description.
    read : mapping of int to (float, float)
        By octave: decay time as read, and its standard uncertainty as a share of it. [s, 1]
    proposal : Proposal or None
        None where no target is named, or none can be worked out.
    lacks : str
        Why none can be, with the remedy.
    players : tuple of Player
        The room as it is and as proposed, equally loud.
    remarks : tuple of Remark
        About the description.
    """

    stage: str
    foreseen: Expected | None
    read: Mapping[int, tuple[float, float]]
    proposal: Proposal | None = None
    lacks: str = ""
    players: tuple[Player, ...] = ()
    remarks: tuple[Remark, ...] = ()


def read_ci95_s(time_s: float, share: float) -> tuple[float, float]:
    """Give the 95 % interval of a decay time from its uncertainty as a share of it. [s]."""
    reach = math.exp(_Z95 * share)
    return time_s / reach, time_s * reach


def verdicts(step: NextStep) -> tuple[str, ...]:
    """Hold the prediction against the reading, octave by octave.

    They differ where the two uncertainties together do not explain it (at 95 %).
    """
    if step.foreseen is None:
        return ()
    found = []
    for k, i in enumerate(step.foreseen.octaves):
        if i not in step.read:
            found.append(NO_READING)
            continue
        time_s, share = step.read[i]
        off = math.log(time_s / float(step.foreseen.decay_time_s[k]))
        if abs(off) <= _Z95 * math.hypot(share, float(step.foreseen.log_spread[k])):
            found.append(AS_FORESEEN)
        else:
            found.append(LONGER if off > 0.0 else SHORTER)
    return tuple(found)


def next_step_document(step: NextStep) -> Document:
    """Make the part of a document that says what to hang next."""
    from roomir.bands.band import OCTAVES
    from roomir.report.planning.proposal import proposal_document

    foreseen = []
    if step.foreseen is not None:
        for k, (i, verdict) in enumerate(zip(step.foreseen.octaves, verdicts(step), strict=True)):
            foreseen.append(
                {
                    "centre_hz": OCTAVES[i].nominal_hz,
                    "predicted_s": number(step.foreseen.decay_time_s[k]),
                    "ci95_s": numbers(step.foreseen.ci95_s[k].tolist()),
                    "read_s": number(step.read[i][0]) if i in step.read else None,
                    "verdict": verdict,
                }
            )
    return {
        "stage": step.stage or None,
        "described": step.foreseen is not None,
        "predicted": foreseen,
        "proposal": None if step.proposal is None else proposal_document(step.proposal),
        "lacks": step.lacks or None,
        "remarks": remark_documents(step.remarks),
    }
