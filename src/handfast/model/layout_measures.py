"""How good it is where arms and holders stand."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Measures:
    """undone: mates that no hand, or no pair of hands, can do; shares: by arm and holder, the mean share of
    grasps by which what is needed there is reached with clearance; share: the mean over all needs of the
    best arm's; clearance: of the arms' links in the tightest need [m]; crowding: share of pairs of needed
    poses at which two arms come nearer to each other than the clearance that is kept; travel_s: of the hands,
    each part's way from home and back, handovers counted [s]."""

    undone: tuple[str, ...]
    shares: tuple[tuple[str, str, float], ...]
    share: float
    clearance: float
    crowding: float
    travel_s: float

    def cost(self, margin: float, cycle_s: float | None = None) -> float:
        """One number by which layouts are compared, in seconds.

        The planned cycle [s], or the travel where nothing was planned, lengthened by half of the share by
        which crowding keeps hands from working at once; 1000 for each mate that cannot be done; 10 for
        grasps that are all lost; 1 for each millimetre, up to 50, by which the links' clearance falls short
        of `margin` [m]: what is barely reached is lost to the next change.
        """
        seconds = self.travel_s if cycle_s is None else cycle_s
        short = min(max(0.0, margin - self.clearance) * 1e3, 50.0)
        return 1000.0 * len(self.undone) + seconds * (1 + self.crowding / 2) + 10 * (1 - self.share) + short
