"""handfast new --from."""

from __future__ import annotations

from handfast.cli.exit_codes import NO, STOPPED, YES, UnusableError
from handfast.cli.findings_text import all_lines
from handfast.cli.screen import complain, progress, say
from handfast.geometry.cad.cad_error import CadError
from handfast.geometry.cad.read_cad import Limits
from handfast.workflow.new_from_cad import Begun, new_from_cad
from handfast.workflow.new_project import NewProjectError


def do_new_from_cad(folder: str, source: str, base: str | None, limits: Limits, unit: str | None) -> int:
    """Read the assembly, write the folder, check it. Yes: it can be used; no: it breaks a rule."""
    try:
        with progress("reading", every=10) as tell:
            begun = new_from_cad(folder, source, base, limits, tell, unit)
    except (CadError, NewProjectError) as error:
        raise UnusableError(str(error)) from error
    except ValueError as error:
        raise UnusableError(f"--base: {error}") from error
    except KeyboardInterrupt:
        complain(f"stopped: nothing was written to {folder}")
        return STOPPED
    except OSError as error:
        raise UnusableError(f"{folder}: cannot be written: {error.strerror}") from error
    _tell(begun, folder)
    errors = [f for f in begun.findings if f.severity == "error"]
    for line in all_lines(begun.findings):
        say(line)
    return NO if errors else YES


def _tell(begun: Begun, folder: str) -> None:
    guessed = begun.guessed
    for part in guessed.parts:
        if part.placed.standard is not None:
            say(f"{part.name}: {part.why} (sure {part.placed.standard.sure:.2f})")
    for mate in guessed.mates:
        pairs = ", ".join(f"{p.moving} and {p.fixed_part}.{p.fixed}" for p in mate.mate.pairs)
        say(f"{mate.mate.name}: {mate.mate.kind}, {pairs} (sure {mate.sure:.2f})")
    for note in guessed.notes:
        say(f"note: {note}")
    say(
        f"wrote {folder}: {len(guessed.parts)} parts, {len(guessed.mates)} mates, base {guessed.base}. "
        f"{begun.questions} questions: search the files for `# ?`."
    )
