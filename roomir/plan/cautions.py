"""What to mind before anything is hung. Short on purpose: local codes and licensed practice decide."""

from __future__ import annotations

from collections.abc import Sequence

from roomir.plan.treatment import Item, is_overhead
from roomir.remarks import Remark
from roomir.rooms.description import Room

LB_FT2_PER_KG_M2 = 0.204816

_FIBRES = frozenset({"porous", "perforated", "slotted", "membrane", "reversible"})


def cautions(room: Room, items: Sequence[Item]) -> tuple[Remark, ...]:
    """List what to mind with these panels in this room.

    Parameters
    ----------
    room : Room
        Where they hang.
    items : sequence of Item
        What hangs.

    Returns
    -------
    tuple of Remark
        Empty where nothing hangs.
    """
    kinds = {item.absorber.panel.kind for item in items if item.absorber.panel is not None}
    if not kinds:
        return ()
    found = [
        Remark(
            code="caution-fire",
            says=(
                "linings have to be of the fire class that your local code asks for"
                " (EN 13501-1, ASTM E84, NFPA 286)"
            ),
            remedy="ask for the sheet of what you buy; never packing or bedding foam; keep exits clear",
        )
    ]
    if "foam" in kinds:
        found.append(
            Remark(
                code="caution-foam",
                says="foam burns fast and with poisonous smoke unless it is made for linings",
                remedy="take only foam with a fire class, away from lamps, heaters and sockets",
            )
        )
    if kinds & _FIBRES:
        found.append(
            Remark(
                code="caution-fibres",
                says="mineral fibres irritate skin, eyes and airways while they are cut and hung",
                remedy="gloves, goggles overhead, dust mask, fresh air; cover the wool with cloth",
            )
        )
    overhead = [
        item
        for item in items
        if any(surface.name == item.surface and is_overhead(surface) for surface in room.surfaces)
    ]
    heaviest = max(
        (item.absorber.panel.weight_kg_per_m2 for item in overhead if item.absorber.panel), default=0.0
    )
    if overhead:
        found.append(
            Remark(
                code="caution-overhead",
                says=(
                    f"up to {heaviest:.1f} kg/m2 ({heaviest * LB_FT2_PER_KG_M2:.1f} lb/ft2) and the frame"
                    " hang overhead"
                ),
                remedy="rated fixings into the structure, not into board alone, and a tether for each panel",
            )
        )
    found += [
        Remark(
            code="caution-ventilation",
            says="a room that is lined and closed still needs fresh air",
            remedy="leave grilles free; a silencer changes neither the need nor the code",
        ),
        Remark(
            code="caution-electrical",
            says="panels must not cover boxes, lamps or heaters, nor cables that get warm",
            remedy="leave them accessible; a licensed electrician moves them",
        ),
        Remark(
            code="caution-moisture",
            says="wool on an outer wall or a vapour barrier can get wet behind",
            remedy="leave barriers whole, keep a gap on outer walls, ask where in doubt",
        ),
    ]
    return tuple(found)
