"""handfast new."""

from __future__ import annotations

import sys
from pathlib import Path

from handfast.cli.do_plan import do_plan
from handfast.cli.exit_codes import UnusableError
from handfast.cli.findings_text import all_lines
from handfast.cli.screen import say
from handfast.files.starter.answers import UNKNOWN, Answers, parse_answers, read_answers
from handfast.files.starter.questions import QUESTIONS, Question
from handfast.workflow.new_project import NewProjectError, new_project


def do_new(folder: str, answers_file: str | None) -> int:
    """Ask, write the folder, check it and plan its pin. The exit code of the plan."""
    answers = _ask() if answers_file is None else _from_file(answers_file)
    try:
        files = new_project(folder, answers)
    except NewProjectError as error:
        raise UnusableError(str(error)) from error
    except OSError as error:
        raise UnusableError(f"{folder}: cannot be written: {error.strerror}") from error
    for question in QUESTIONS:
        if question.key in answers.assumed:
            say(f"assumed: {question.key}: {question.assumed or 'cautious values for each kind of error'}")
    say(f"wrote {', '.join(str(f) for f in files)}")
    return do_plan(folder, 0, False)


def _from_file(path: str) -> Answers:
    found = read_answers(Path(path))
    if isinstance(found, Answers):
        return found
    raise UnusableError(*all_lines(found))


def _ask() -> Answers:
    if not sys.stdin.isatty():
        raise UnusableError(
            "expected a terminal to ask at, found none; write the answers to a file: --answers FILE.yaml "
            f"({', '.join(q.key for q in QUESTIONS)}; each may be `{UNKNOWN}`)"
        )
    say(f"{len(QUESTIONS)} questions. Enter takes what stands in brackets; `{UNKNOWN}` is an answer too.")
    written = {question.key: _asked(question) for question in QUESTIONS}
    found = parse_answers(written)
    if isinstance(found, Answers):
        return found
    raise UnusableError(*all_lines(found))


def _asked(question: Question) -> str:
    """An answer that can be read; asked again until there is one."""
    while True:
        try:
            typed = input(f"{question.asks} [{question.assumed or UNKNOWN}] ").strip()
        except EOFError as error:
            raise UnusableError("expected an answer, found the end of the input") from error
        answer = typed or question.assumed or UNKNOWN
        found = parse_answers({question.key: answer})
        if isinstance(found, Answers):
            return answer
        for line in all_lines(found):
            say(line)
