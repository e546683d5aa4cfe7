"""`asfound drill`."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

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
  5  none of the defects asked for found a place in the record; or the marking
     was stopped before its end, and nothing was scored
"""


class Seed(click.ParamType):
    """A whole number that an exercise is made from."""

    name = "number"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        text = str(value).strip()
        if not (text.isascii() and text.isdigit() and len(text) <= 10 and int(text) <= 10**9):
            self.fail(f"{value!r}: write a whole number from 0 to 1000000000", param, ctx)
        return int(text)


@click.command(epilog=STATUSES)
@click.argument("record", type=click.Path(path_type=Path), required=False)
@click.option("--house", "invented", is_flag=True, help="Make an invented house of the seed instead of a record.")
@click.option("--circuits", type=click.IntRange(1, 40), help="Circuits of the invented house.  [default: 8 to 20]")
@click.option("--plant", "count", type=click.IntRange(0, 40), help="Plant so many defects.  [default: 3 with --house]")
@click.option("--defect", "only", multiple=True, metavar="NAME", help="Plant only defects of this kind; repeatable.")
@click.option("--defects", "listing", is_flag=True, help="List the kinds of defect and leave.")
@click.option("--seed", type=Seed(), help="Seed of house and defects.  [default: a new one]")
@click.option("--free", is_flag=True, help="Mark freely by tag, not asked place by place.")
@click.option("--answers", type=click.Path(path_type=Path), metavar="FILE", help="Score the marks in this file.")
@click.option("--save", type=click.Path(path_type=Path), metavar="FILE", help="Keep the marks given here in FILE.")
@click.option("--resume", type=click.Path(path_type=Path), metavar="FILE", help="Go on with the marks kept in FILE.")
@click.option("--force", is_flag=True, help="Write over files that are no earlier exercise; never over the input.")
@click.option("--page", "to_page", type=click.Path(path_type=Path), metavar="FILE", help="Write a web page to FILE.")
@click.option("--write", "to_record", type=click.Path(path_type=Path), metavar="FILE", help="Write the record to FILE.")
@as_of_option
@rules_option
def drill(
    record: Path | None, invented: bool, circuits: int | None, count: int | None, only: tuple[str, ...], listing: bool,
    seed: int | None, free: bool, answers: Path | None, save: Path | None, resume: Path | None, force: bool,
    to_page: Path | None, to_record: Path | None, as_of: str | None, named: tuple[Path, ...],
) -> None:  # fmt: skip
    """Make an exercise of RECORD: its findings are hidden, you mark what you see.

    Marks are scored (found, missed, false alarms, grade, order, next check) and
    each danger is explained. With --plant, defects are put into a copy of the
    record; the seed is printed for the trainer, and the same seed gives the same
    exercise. With --page or --write, files are written and nothing is asked.
    --save keeps the marks after each of them; --resume goes on from there.
    """
    if listing:
        from asfound.drill.planters import planters
        from asfound.drill.text import planters_text

        click.echo(planters_text(planters()))
        sys.exit(OK)
    if invented and record is not None:
        raise click.UsageError("a record and --house were given; give one of them, not both")
    if not invented and record is None:
        raise click.UsageError("name a record, or give --house for an invented one")
    if answers is not None and resume is not None:
        raise click.UsageError("--answers scores marks, --resume goes on with them; give one of them, not both")
    if circuits is not None and not invented:
        raise click.UsageError("--circuits is for --house")
    _known(only)
    planted = count if count is not None else (3 if invented or only else 0)
    if not planted and not invented and (seed is not None or only):
        raise click.UsageError("--seed and --defect are for defects to plant; give --plant N with them")
    if seed is None:
        import secrets

        seed = secrets.randbelow(10**6)
    outputs = {"page": to_page, "record": to_record, "marks": save}
    _may_write(outputs, [record, answers, *named], resume, force, asks=answers is None)
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
    from asfound.drill.words import made

    click.echo(head_text(exercise))
    if exercise.seed is not None and (to_page or to_record):
        click.echo(
            f"For the trainer: {made(exercise)} Whoever has the seed can print the answers. {_again(exercise)}",
            err=True,
        )
    if answers is None and (to_page is not None or to_record is not None):
        sys.exit(RULE_FAILED if exercise.failed else OK)
    if answers is not None:
        given = _read(answers, exercise)
        if save is not None:
            _write(save, _as_marks(exercise, given))
    else:
        given = _ask(exercise, free, save or resume, _read(resume, exercise) if resume is not None else None)
    _score(exercise, given)
    sys.exit(RULE_FAILED if exercise.failed else OK)


def _known(only: tuple[str, ...]) -> None:
    """Leave when a kind of defect is not known, with the nearest name."""
    from asfound.drill.near import in_order
    from asfound.drill.planters import planters

    known = planters()
    for name in only:
        if name not in known:
            click.echo(f"--defect: there is no kind of defect {name!r}. {in_order(name, known)}.", err=True)
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

    return as_yaml(exercise.record, NOTE if exercise.planted else "Record of an exercise.")


def _as_marks(exercise: Exercise, given: Answers) -> bytes:
    from asfound.drill.answers import written

    return written(exercise, given.marks, given.chosen, given.by, given.reached).encode()


_SORTS = {"page": ("--page", "page of an exercise"), "record": ("--write", "record of an exercise"),
          "marks": ("--save", "file of marks")}  # fmt: skip


def _may_write(
    outputs: dict[str, Path | None], inputs: Sequence[Path | None], resume: Path | None, force: bool, *, asks: bool
) -> None:
    """Leave before anything is made when a file to write is an input, is named twice, or holds something else."""
    from asfound.drill.kept import has_marks, may_be_replaced, same_file

    seen: list[Path] = []
    for kind, path in outputs.items():
        if path is None:
            continue
        option, sort = _SORTS[kind]
        own = kind == "marks" and resume is not None and same_file(path, resume)
        read = [one for one in (*inputs, *([] if own else [resume])) if one is not None]
        try:
            if any(same_file(path, one) for one in read):
                _refuse(f"{option} {path}: this file is read here and is not written over; give another name")
            if any(same_file(path, one) for one in seen):
                _refuse(f"{option} {path}: another option writes to this file; give another name")
            if not force and not may_be_replaced(path, kind):
                _refuse(f"{option} {path}: there is a file that is no earlier {sort}; give another name, or --force")
            if not force and not own and asks and kind == "marks" and has_marks(path):
                _refuse(f"--save {path}: it holds marks already; go on with --resume {path}, or give --force")
        except OSError as error:
            _refuse(f"{option} {path} cannot be read ({error.strerror}); give another name")
        seen.append(path)


def _refuse(sentence: str) -> NoReturn:
    click.echo(f"{sentence}. Nothing was written.", err=True)
    sys.exit(USAGE)


def _write(path: Path, content: bytes, *, quiet: bool = False) -> None:
    from asfound.files import write_atomically

    try:
        write_atomically(path, content)
    except OSError as error:
        click.echo(f"{path} cannot be written ({error.strerror}); check the folder and its permissions.", err=True)
        sys.exit(USAGE)
    if not quiet:
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


def _ask(exercise: Exercise, free: bool, keep_in: Path | None, begun: Answers | None) -> Answers:
    """Ask in the terminal: place by place or freely; then the order, and the next check."""
    from asfound.drill.asked import Asker, Stopped

    def keep(given: Answers) -> None:
        if keep_in is not None:
            _write(keep_in, _as_marks(exercise, given), quiet=True)

    try:
        return Asker(exercise, _line, _say, keep, begun).ask(free=free)
    except (KeyboardInterrupt, Stopped):
        kept = f" Your marks are in {keep_in}; go on with --resume {keep_in}." if keep_in is not None else ""
        click.echo(f"\nStopped. Nothing was scored.{kept} {_again(exercise)}", err=True)
        sys.exit(NOTHING)


def _again(exercise: Exercise) -> str:
    """How to have the same exercise another day."""
    seed = f"--seed {exercise.seed} " if exercise.seed is not None else ""
    return f"The same exercise again, today or later: {seed}--as-of {exercise.as_of}."


def _line(question: str) -> str | None:
    """One line from the terminal, None at its end."""
    click.echo(question, nl=False)
    line = sys.stdin.readline()
    if not line:
        click.echo("")
        return None
    return line.strip()


_say: Callable[[str], Any] = click.echo
