"""Errors learned from logs, proposed to the engineer."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.spatial.pose import Pose


@dataclass(frozen=True, slots=True)
class SourceProposal:
    """Declared against observed for one source and freedom (-1: of a sum, or of what has none). declared,
    observed: sigma [m or rad; of sensors as their row says]; interval: 95 % of the observed one; count: of
    observations; refuted: the declared value lies outside; offered: to be taken over even so, since it tells
    of this very cell what was only known of cells like it."""

    source: str
    freedom: int
    declared: float
    observed: float
    interval: tuple[float, float]
    count: int
    refuted: bool
    text: str = ""
    offered: bool = False


@dataclass(frozen=True, slots=True)
class Offset:
    """How far something stands off, once measured. what: it is; freedom: 0 to 5 of the frame that `text`
    names; declared: sigma that it was thought to be off by, found: what it is off by, interval: 95 % of that
    [m or rad]; told: the touches alone tell it, else the declared sigma of what `text` names was needed;
    refuted: further off than declared."""

    what: str
    freedom: int
    declared: float
    found: float
    interval: tuple[float, float]
    told: bool
    refuted: bool
    text: str = ""


@dataclass(frozen=True, slots=True)
class BaseMove:
    """Where an arm is to be written to stand, as measured from another arm, whose place is kept. now, new:
    T_world_root; sigma: what stays uncertain of it, in the frame of `arm.NAME.base` [m, rad]; source: whose
    sigma that becomes, "" if none acts there; worth: it is proposed to be taken over; text: why, or why
    not."""

    arm: str
    other: str
    now: Pose
    new: Pose
    sigma: tuple[float, float, float, float, float, float]
    source: str
    worth: bool
    text: str = ""


@dataclass(frozen=True, slots=True)
class SourceProposals:
    """All comparisons that some logs allow. logs: how many; not_measured: what nothing here tells, in words;
    mates: to check again if what is refuted or offered is taken over; offsets, moves: of what was touched by
    both arms."""

    logs: int
    rows: tuple[SourceProposal, ...]
    not_measured: tuple[str, ...] = ()
    mates: tuple[str, ...] = ()
    offsets: tuple[Offset, ...] = ()
    moves: tuple[BaseMove, ...] = ()
