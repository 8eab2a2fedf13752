"""A stated sample of the insertions of a trial, repeated in the physics engine."""

from __future__ import annotations

from handfast.model.trial import Repeat
from handfast.trials.engine_contact import insert_in_engine
from handfast.trials.insertion import Inserted, Insertion

EVERY = 5  # of the first builds every so many repeat one of their insertions, each mate's in turn,
FIRST = 50  # up to this one,
EVERY_LATER = 20  # after which every so many do: an insertion costs the engine seconds
EVERY_FAILED = 4  # every so many builds those that failed: they are rare, and most in doubt


def sampled(build: int, mate: int, of: int, result: Inserted, scale: float = 1.0) -> bool:
    """Whether this insertion of this build is repeated: by the build's number, so that a trial that is gone
    on with, or spread over processes, repeats the same ones. mate: which of the `of` mates that go in it is;
    scale: of the errors, beyond which failures are no longer rare."""
    failed_every = EVERY_FAILED if scale <= 1.0 else EVERY_LATER
    if result.outcome != "ok" and build % failed_every == 0:
        return True
    every, since, turn = (EVERY, 0, 0) if build < FIRST else (EVERY_LATER, FIRST, FIRST // EVERY)
    return (build - since) % every == 0 and (turn + (build - since) // every) % of == mate


def repeated(mate: str, task: Insertion, result: Inserted) -> Repeat:
    """The same task in the engine. Of a way in with several tries the last one, which decided."""
    engine = insert_in_engine(task)
    return Repeat(
        mate, result.outcome, engine.outcome if engine.valid else "invalid", result.cause, engine.cause,
        result.peak_force, engine.peak_force,
    )  # fmt: skip
