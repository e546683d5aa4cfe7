"""`asfound drill`."""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from asfound.command import NOTHING, OK, REFUSED, RULE_FAILED, USAGE, rules_option
from asfound.command.reading import accepted, as_of_option

if TYPE_CHECKING:
    from asfound.drill.answers import Answers
    from asfound.drill.exercise import Exercise

STATUSES = """\b
Exit status:
  0  the exercise was written, shown or scored (whatever the score)
  2  the command, a rule pack or a file to write is not usable as given
  3  the record or the answers are refused; every problem is listed
  4  a rule failed on some item; the score leaves it out
  5  none of the defects asked for found a place in the record
"""


@click.command(epilog=STATUSES)
@click.argument("record", type=click.Path(path_type=Path), required=False)
@click.option("--house", "invented", is_flag=True, help="Make an invented house of the seed instead of a record.")
@click.option("--circuits", type=click.IntRange(1, 40), help="Circuits of the invented house.  [default: 8 to 20]")
@click.option("--plant", "count", type=click.IntRange(0, 40), help="Plant so many defects.  [default: 3 with --house]")
@click.option("--defect", "only", multiple=True, metavar="NAME", help="Plant only defects of this kind; repeatable.")
@click.option("--defects", "listing", is_flag=True, help="List the kinds of defect and leave.")
@click.option("--seed", type=click.IntRange(0, 10**9), help="Seed of house and defects.  [default: a new one]")
@click.option("--free", is_flag=True, help="Mark freely by tag, not asked place by place.")
@click.option("--answers", type=click.Path(path_type=Path), metavar="FILE", help="Score the marks in this file.")
@click.option("--save", type=click.Path(path_type=Path), metavar="FILE", help="Keep the marks given here in FILE.")
@click.option("--page", "to_page", type=click.Path(path_type=Path), metavar="FILE", help="Write a web page to FILE.")
@click.option("--write", "to_record", type=click.Path(path_type=Path), metavar="FILE", help="Write the record to FILE.")
@as_of_option
@rules_option
def drill(
    record: Path | None, invented: bool, circuits: int | None, count: int | None, only: tuple[str, ...], listing: bool,
    seed: int | None, free: bool, answers: Path | None, save: Path | None, to_page: Path | None, to_record: Path | None,
    as_of: str | None, named: tuple[Path, ...],
) -> None:  # fmt: skip
    """Make an exercise of RECORD: its findings are hidden, you mark what you see.

    Marks are scored (found, missed, false alarms, grade, order, next check) and
    each danger is explained. With --plant, defects are put into a copy of the
    record; the seed is printed, and the same seed gives the same exercise. With
    --page or --write, files are written and nothing is asked.
    """
    if listing:
        from asfound.drill.planters import planters
        from asfound.drill.text import planters_text

        click.echo(planters_text(planters()))
        sys.exit(OK)
    if invented == (record is not None):
        raise click.UsageError("name a record, or give --house for an invented one")
    if circuits is not None and not invented:
        raise click.UsageError("--circuits is for --house")
    _known(only)
    planted = count if count is not None else (3 if invented or only else 0)
    if not planted and not invented and (seed is not None or only):
        raise click.UsageError("--seed and --defect are for defects to plant; give --plant N with them")
    if seed is None:
        import secrets

        seed = secrets.randbelow(10**6)
    day = as_of or date.today().isoformat()
    exercise = _exercise(record, circuits, planted, only, seed, day, named)
    if planted and not exercise.planted:
        click.echo(
            "None of the defects asked for found a place in the record where the rules find just it; record more of "
            "the wiring plainly, or give another --seed or --defect.",
            err=True,
        )
        sys.exit(NOTHING)
    if to_page is not None:
        from asfound.drill.page import page

        _write(to_page, page(exercise))
    if to_record is not None:
        _write(to_record, _as_record(exercise).encode())
    from asfound.drill.text import head_text

    click.echo(head_text(exercise))
    if answers is None and (to_page is not None or to_record is not None):
        sys.exit(RULE_FAILED if exercise.failed else OK)
    given = _read(answers, exercise) if answers is not None else _ask(exercise, free)
    if save is not None:
        from asfound.drill.answers import written

        _write(save, written(exercise, given.marks, given.chosen, given.by).encode())
    _score(exercise, given)
    sys.exit(RULE_FAILED if exercise.failed else OK)


def _known(only: tuple[str, ...]) -> None:
    """Leave when a kind of defect is not known, with the nearest name."""
    from asfound.drill.planters import planters
    from asfound.names import Names

    known = Names(planters())
    for name in only:
        if name not in known:
            click.echo(f"--defect: there is no kind of defect {name!r}; {known.hint(name)}.", err=True)
            sys.exit(USAGE)


def _exercise(
    record: Path | None, circuits: int | None, planted: int, only: tuple[str, ...], seed: int, day: str,
    named: tuple[Path, ...],
) -> Exercise:  # fmt: skip
    from asfound.drill.exercise import from_file, planted_in
    from asfound.drill.houses import house
    from asfound.drill.plain import plain
    from asfound.load import load_file
    from asfound.plugins import collect
    from asfound.survey import read_record

    def made() -> Exercise:
        collected = collect(named)
        if record is None:
            return planted_in(house(seed, circuits=circuits, doubts=2), day, collected, seed, planted, only)
        if not planted:
            return from_file(record, day, collected)
        document = load_file(record)
        sound = plain(document.root)
        read_record(document)  # refused here, with the lines of the file as it is
        return planted_in(sound, day, collected, seed, planted, only)

    return accepted(made, "No exercise was made")


def _as_record(exercise: Exercise) -> str:
    from asfound.drill.exercise import NOTE
    from asfound.drill.written import as_yaml

    seed = f" Seed {exercise.seed}." if exercise.seed is not None else ""
    return as_yaml(exercise.record, f"{NOTE if exercise.planted else 'Record of an exercise.'}{seed}")


def _write(path: Path, content: bytes) -> None:
    from asfound.files import write_atomically

    try:
        write_atomically(path, content)
    except OSError as error:
        click.echo(f"{path} cannot be written ({error.strerror}); check the folder and its permissions.", err=True)
        sys.exit(USAGE)
    click.echo(f"Wrote {path}.", err=True)


def _read(path: Path, exercise: Exercise) -> Answers:
    from asfound.drill.answers import read_answers
    from asfound.load import Refused

    try:
        return read_answers(path, exercise)
    except Refused as refused:
        for sentence in refused.sentences():
            click.echo(sentence, err=True)
        click.echo("The answers were not scored.", err=True)
        sys.exit(REFUSED)


def _score(exercise: Exercise, given: Answers) -> None:
    from asfound.drill.score import score
    from asfound.drill.text import score_text

    click.echo(f"\n{score_text(exercise, given.marks, score(exercise.key, given.marks, given.chosen))}")


def _ask(exercise: Exercise, free: bool) -> Answers:
    """Ask in the terminal: place by place or freely; then the order, and the next check."""
    from asfound.drill.asked import Asker

    try:
        return Asker(exercise, _line, _say).ask(free=free)
    except KeyboardInterrupt:
        click.echo("\nStopped. Nothing was scored.", err=True)
        sys.exit(USAGE)


def _line(question: str) -> str | None:
    """One line from the terminal, None at its end."""
    click.echo(question, nl=False)
    line = sys.stdin.readline()
    if not line:
        click.echo("")
        return None
    return line.strip()


_say: Callable[[str], Any] = click.echo
