"""A stated sample of the insertions of a trial, repeated in the physics engine."""

from __future__ import annotations

from handfast.model.trial import Repeat
from handfast.trials.engine_contact import insert_in_engine
from handfast.trials.insertion import Inserted, Insertion

EVERY = 20  # every so many builds all insertions are repeated
EVERY_FAILED = 4  # every so many builds those that failed: they are rare, and most in doubt


def sampled(build: int, result: Inserted) -> bool:
    """Whether this insertion of this build is repeated: by the build's number, so that a trial that is gone
    on with, or spread over processes, repeats the same ones."""
    return build % EVERY == 0 or (result.outcome != "ok" and build % EVERY_FAILED == 0)


def repeated(mate: str, task: Insertion, result: Inserted) -> Repeat:
    """The same task in the engine. Of a way in with several tries the last one, which decided."""
    engine = insert_in_engine(task)
    return Repeat(
        mate, result.outcome, engine.outcome if engine.valid else "invalid", result.cause, engine.cause,
        result.peak_force, engine.peak_force,
    )  # fmt: skip
