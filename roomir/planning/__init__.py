"""The planner's front door: where room files, tables, arithmetic and reports meet."""

from roomir.planning.absorbers import (
    design_figure,
    diffuser,
    diffuser_figure,
    helmholtz_absorber,
    helmholtz_boxes,
    membrane_absorber,
    perforated_absorber,
    porous_absorber,
    save_absorber,
    slotted_absorber,
)
from roomir.planning.hearing import Heard, hear, heard_json
from roomir.planning.learning import knowledge_from, knowledge_of_stages, told
from roomir.planning.next_step import foreseen_figure, next_step, read_description
from roomir.planning.predicting import predict
from roomir.planning.rooms import (
    described_room,
    find_materials,
    load_materials,
    load_room,
    write_new_room,
)
from roomir.planning.treatment import proposal_figure, treat

__all__ = [
    "Heard",
    "described_room",
    "design_figure",
    "diffuser",
    "diffuser_figure",
    "find_materials",
    "foreseen_figure",
    "hear",
    "heard_json",
    "helmholtz_absorber",
    "helmholtz_boxes",
    "knowledge_from",
    "knowledge_of_stages",
    "load_materials",
    "load_room",
    "membrane_absorber",
    "next_step",
    "perforated_absorber",
    "porous_absorber",
    "predict",
    "proposal_figure",
    "read_description",
    "save_absorber",
    "slotted_absorber",
    "told",
    "treat",
    "write_new_room",
]
