"""The state before the first element: everything in its place, each place as far off as its holder and
itself may be.
"""

from __future__ import annotations

from handfast.model.scene import Attachment
from handfast.spatial import se3
from handfast.uncertainty.chain_state import Hand, Item, State
from handfast.uncertainty.error_form import composed, moved
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.refusal import ChainError


def start_state(given: Given) -> State:
    """The state of the chart's starting scene. Raises ChainError for an item that starts in no place of a
    holder.
    """
    cell = given.project.cell
    attachments = given.chart.start.attachments
    return State(
        items={a.item: _in_place(given, a) for a in attachments},
        parents={a.item: a for a in attachments},
        hands={arm.name: Hand("start") for arm in cell.arms},
        bits={tool.name: tool.bit.matrix for tool in cell.tools},
    )


def _in_place(given: Given, attachment: Attachment) -> Item:
    kind, _, path = attachment.parent.partition(".")
    holder_name, _, place_name = path.partition(".")
    if kind != "place":
        raise ChainError(f"start of {attachment.item!r}", "a place of a holder", repr(attachment.parent))
    holder = given.project.cell.holder(holder_name)
    place = next((p for p in holder.places if p.name == place_name), None)
    if place is None:
        known = ", ".join(p.name for p in holder.places)
        raise ChainError(
            f"start of {attachment.item!r}", f"a place of {holder.name!r}: {known}", repr(place_name)
        )
    T_holder_place, T_place_item = place.pose.matrix, attachment.pose.matrix
    of_holder = given.sources.form(f"holder.{holder_name}", "start", f"holder {holder_name}")
    of_place = given.sources.form(attachment.parent, "start", path)
    at_place = composed(moved(se3.inverse(T_holder_place), of_holder), of_place, given.sources.variances)
    return Item(
        holder.pose.matrix @ T_holder_place @ T_place_item,
        moved(se3.inverse(T_place_item), at_place),
    )
