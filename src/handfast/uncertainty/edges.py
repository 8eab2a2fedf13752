"""The edges of the frame graph that an error source may act on."""

from __future__ import annotations

from handfast.model.project import Project


def edges(project: Project) -> tuple[str, ...]:
    """Every name that `acts_on` may have in this project (model/error_source.py says what each means)."""
    cell, product = project.cell, project.product
    return (
        *(f"arm.{arm.name}.{what}" for arm in cell.arms for what in ("base", "tip", "flange")),
        *(f"gripper.{gripper.name}.{what}" for gripper in cell.grippers for what in ("jaw", "fingers")),
        *(f"grasp.{gripper.name}.free" for gripper in cell.grippers),
        *(f"holder.{holder.name}" for holder in cell.holders),
        *(f"place.{holder.name}.{place.name}" for holder in cell.holders for place in holder.places),
        *(f"feature.{part.name}.{feature.name}" for part in product.parts for feature in part.features),
        *(f"feature.{tool.name}.{feature.name}" for tool in cell.tools for feature in tool.features),
        *(f"tool.{tool.name}.bit" for tool in cell.tools),
        *(f"camera.{camera.name}" for camera in cell.cameras),
        *(f"touch.{arm.name}" for arm in cell.arms),
    )
